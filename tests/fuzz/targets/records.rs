#![no_main]
#[path = "../bodies/records.rs"]
mod records;
#[path = "../bodies/script.rs"]
mod script;
#[path = "../bodies/wrapped.rs"]
#[allow(dead_code)]
mod wrapped;

libfuzzer_sys::fuzz_target!(|data: &[u8]| records::body(data));
