//! The header that says who asks.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| capful_fuzz::service::authorization(data));
