//! The body of a request to the HTTP interface.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| capful_fuzz::service::json_body(data));
