//! The readers of what strangers send, each by itself, for the fuzz targets in `fuzz/` and for the
//! test that feeds these their corpora. No part of the service.
//!
//! Each takes a text as it comes over the wire and holds what was read to what its reader promises;
//! a promise that does not hold is a panic.

use axum::http::{HeaderMap, HeaderName, HeaderValue, header};
use serde::de::DeserializeOwned;

use crate::page::WhichPage;
use crate::pages::fuzzing as pages;
use crate::params::{self, When, WhichPlan};
use crate::written::{
    CountBody, DiscardBody, FinishBody, JobBody, JobChangeBody, JobTypeBody, MixBody, OfferBody,
    OpeningBody, OrderBody, PourRows, ProductBody, RatioBody, ReceiptRows, ShopBody, SupplierBody,
};
use crate::{auth, etag, once};

/// The body of every operation that takes one.
pub fn json_body(bytes: &[u8]) {
    fn reads<T: DeserializeOwned>(bytes: &[u8]) {
        if let Err(problem) = once::read_json::<T>(bytes) {
            assert!(!problem.detail.is_empty(), "a body is refused without a reason");
        }
    }
    reads::<JobBody>(bytes);
    reads::<JobChangeBody>(bytes);
    reads::<Option<FinishBody>>(bytes);
    reads::<PourRows>(bytes);
    reads::<ReceiptRows>(bytes);
    reads::<OpeningBody>(bytes);
    reads::<DiscardBody>(bytes);
    reads::<MixBody>(bytes);
    reads::<CountBody>(bytes);
    reads::<OrderBody>(bytes);
    reads::<OfferBody>(bytes);
    reads::<ProductBody>(bytes);
    reads::<RatioBody>(bytes);
    reads::<SupplierBody>(bytes);
    reads::<JobTypeBody>(bytes);
    reads::<ShopBody>(bytes);
}

/// What stands behind the `?` of an address, cursors among it.
pub fn query(text: &str) {
    fn reads<T: DeserializeOwned>(text: &str) {
        if let Err(problem) = params::read::<T>(text) {
            assert!(!problem.detail.is_empty(), "a query is refused without a reason");
        }
    }
    reads::<When>(text);
    reads::<WhichPlan>(text);
    reads::<WhichPage>(text);
}

/// The headers that say which version is edited.
pub fn etag(bytes: &[u8]) {
    let Some(headers) = with(header::IF_MATCH, bytes) else { return };
    if let Ok(Some(version)) = etag::read_version(&headers) {
        assert!(version > 0, "a version below 1 was read");
        let mut again = HeaderMap::new();
        again.insert(header::IF_MATCH, etag::tag(version));
        let read = etag::read_version(&again);
        assert_eq!(read.ok(), Some(Some(version)), "a tag is not read as it is written");
    }
}

/// The header that says who asks.
pub fn authorization(bytes: &[u8]) {
    let Some(headers) = with(header::AUTHORIZATION, bytes) else { return };
    let (bearer, password) = (auth::bearer(&headers), auth::password(&headers));
    assert!(bearer.is_none() || password.is_none(), "one header is read as both of its kinds");
    if let Some(text) = bearer {
        assert!(!text.is_empty(), "a token of no characters was read");
    }
}

/// The header that a session is kept in.
pub fn cookie(bytes: &[u8]) {
    let Some(headers) = with(header::COOKIE, bytes) else { return };
    if let Some(text) = pages::cookie(&headers) {
        assert!(!text.contains(';'), "a cookie was read past its end");
    }
}

/// The body of a form.
pub fn form(bytes: &[u8]) {
    pages::form(bytes);
}

/// An archive of a shop folder.
pub fn archive(bytes: &[u8]) {
    pages::archive(bytes);
}

/// Headers with one of these bytes; nothing where they are none of a header.
fn with(name: HeaderName, bytes: &[u8]) -> Option<HeaderMap> {
    let value = HeaderValue::from_bytes(bytes).ok()?;
    let mut headers = HeaderMap::new();
    headers.insert(name, value);
    Some(headers)
}
