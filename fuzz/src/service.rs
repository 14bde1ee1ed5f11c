//! What the service reads of strangers.

use capful_api::fuzzing;

/// A JSON body.
pub fn json_body(data: &[u8]) {
    fuzzing::json_body(data);
}

/// A form.
pub fn form(data: &[u8]) {
    fuzzing::form(data);
}

/// A query.
pub fn query(data: &[u8]) {
    if let Ok(text) = std::str::from_utf8(data) {
        fuzzing::query(text);
    }
}

/// A version.
pub fn etag(data: &[u8]) {
    fuzzing::etag(data);
}

/// A token, or HTTP's own form of a password.
pub fn authorization(data: &[u8]) {
    fuzzing::authorization(data);
}

/// A session.
pub fn cookie(data: &[u8]) {
    fuzzing::cookie(data);
}

/// An archive.
pub fn archive(data: &[u8]) {
    fuzzing::archive(data);
}
