//! A single cell: ids, quantities, ratios, money, days, moments.

#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| capful_fuzz::cells::cells(data));
