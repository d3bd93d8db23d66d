#![no_main]
#[allow(dead_code)] // the other targets' bodies
#[path = "../bodies/mod.rs"]
mod bodies;

libfuzzer_sys::fuzz_target!(|data: &[u8]| bodies::text_records::body(data));
