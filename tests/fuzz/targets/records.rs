#![no_main]
#[path = "../bodies/records.rs"]
mod records;

libfuzzer_sys::fuzz_target!(|data: &[u8]| records::body(data));
