//! The header that a session is kept in.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| capful_fuzz::service::cookie(data));
