//! What stands behind the `?` of an address.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| capful_fuzz::service::query(data));
