//! The header that says which version is edited.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| capful_fuzz::service::etag(data));
