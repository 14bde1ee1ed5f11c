//! A whole shop folder.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| capful_fuzz::folder::folder(data));
