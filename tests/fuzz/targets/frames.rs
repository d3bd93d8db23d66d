#![no_main]
#[path = "../bodies/frames.rs"]
mod frames;

libfuzzer_sys::fuzz_target!(|data: &[u8]| frames::body(data));
