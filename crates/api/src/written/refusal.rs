//! What the store refuses, as a problem of the field that is at fault.

use capful_store::StoreError;

use crate::problem::{Kind, Problem};

/// The problem that a refusal of the store comes to. `own` is the kind and id of the row that the
/// address names, where it names one: only that one is not found, any other is a wrong field.
pub(crate) fn refusal(error: StoreError, own: Option<(&str, &str)>) -> Problem {
    match &error {
        StoreError::NotFound { what, id } if own != Some((what, id.as_str())) => {
            let field = match *what {
                "job type" => "job_types",
                what => what,
            };
            let list = match *what {
                "container" => "; /api/v1/containers lists them",
                _ => "",
            };
            let expected = format!("the id of a {what} that the shop has{list}");
            Problem::field(field, format!("found {id:?}, expected {expected}"))
        }
        StoreError::Refused(text) => {
            let (field, detail) = match text.split_once(": ") {
                Some((field, rest)) if is_field(field) => (Some(field.to_owned()), rest),
                _ => (None, text.as_str()),
            };
            let detail = if field.is_some() { format!("expected {detail}") } else { detail.into() };
            Problem { field, ..Problem::new(Kind::Refused, detail) }
        }
        _ => Problem::from(error),
    }
}

fn is_field(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_lowercase() || b == b'_')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_body_names_is_a_wrong_field_and_not_a_missing_page() {
        let missing = || StoreError::NotFound { what: "product", id: "soup".to_owned() };
        let field = refusal(missing(), None);
        assert_eq!((field.kind, field.field.as_deref()), (Kind::BadBody, Some("product")));
        let page = refusal(missing(), Some(("product", "soup")));
        assert_eq!((page.kind, page.field), (Kind::NotFound, None));
    }

    #[test]
    fn a_rule_that_names_its_field_is_told_there() {
        let refused = |text: &str| refusal(StoreError::Refused(text.to_owned()), None);
        let at = refused("at: not before it was booked, at 9:00");
        assert_eq!(at.field.as_deref(), Some("at"));
        assert_eq!(at.detail, "expected not before it was booked, at 9:00");
        let done = refused("job J-1 is done: one that is booked can be started");
        assert_eq!((done.field, done.kind), (None, Kind::Refused));
    }
}
