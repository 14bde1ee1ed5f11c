//! What the pages read of strangers, for the fuzz targets. No part of the service.

use axum::http::HeaderMap;

use super::form::Fields;
use super::{setup, visitor};

/// The session of a request.
pub(crate) fn cookie(headers: &HeaderMap) -> Option<&str> {
    visitor::cookie(headers, visitor::COOKIE)
}

/// Reads a form, and makes a body of its fields.
pub(crate) fn form(bytes: &[u8]) {
    let fields = Fields::read(bytes);
    let names = ["planned_on", "size", "condition", "vehicle", "price"];
    let body = fields.body::<crate::written::JobBody>(&names, &["job_types"]);
    if let Err(problem) = body {
        assert!(!problem.detail.is_empty(), "a form is refused without a reason");
    }
    for name in names {
        let text = fields.shown(name);
        assert_eq!(text, text.trim(), "a field is read with the blanks around it");
    }
}

/// Unpacks an archive; what comes out, packed again, comes out the same.
pub(crate) fn archive(bytes: &[u8]) {
    const MOST: usize = 1 << 20;
    let Ok(files) = setup::unpack(bytes, MOST) else { return };
    let size: usize = files.values().map(Vec::len).sum();
    assert!(size <= MOST, "an archive is unpacked past its bound");
    let packed = setup::pack(files.iter().map(|(name, bytes)| (&**name, &bytes[..])));
    let Ok(packed) = packed else { panic!("files that were unpacked cannot be packed") };
    assert_eq!(setup::unpack(&packed, MOST).ok(), Some(files), "packed again it is another");
}
