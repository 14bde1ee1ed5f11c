//! The body of a form.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| capful_fuzz::service::form(data));
