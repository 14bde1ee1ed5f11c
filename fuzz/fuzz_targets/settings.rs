//! The settings' file of the program.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| capful_fuzz::settings::settings(data));
