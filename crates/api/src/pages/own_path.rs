//! Where somebody is led on to: a page of this service, never another site.

/// A path of ours, with its query: plain visible characters alone, so that no browser reads another
/// host out of it and it can stand in a header. Without one, the page of today.
pub(super) fn own_path(then: &str) -> &str {
    let is_plain = then.bytes().all(|byte| byte.is_ascii_graphic() && byte != b'\\');
    let is_own = then.starts_with('/') && !then.contains("//") && is_plain;
    if is_own { then } else { "/" }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nobody_is_led_to_another_site() {
        for own in ["/", "/shelf?x=1&y=%C3%A9#top", "/jobs/J-1", "/deeds?before=0195"] {
            assert_eq!(own_path(own), own);
        }
        for other in [
            "https://other",
            "//other",
            "/\\other",
            "/\t/other",
            "/\n/other",
            "/\r\nset-cookie: a=b",
            "/\0",
            "/shelf//other",
            "/.//other",
            " /other",
            "/ /other",
            "/\u{7f}",
            "/caf\u{e9}",
            "",
            "shelf",
            "javascript:1",
        ] {
            assert_eq!(own_path(other), "/", "{other:?}");
        }
    }
}
