#![no_main]
#[path = "../bodies/frames.rs"]
mod frames;
#[path = "../bodies/wrapped.rs"]
#[allow(dead_code)]
mod wrapped;

libfuzzer_sys::fuzz_target!(|data: &[u8]| frames::body(data));
