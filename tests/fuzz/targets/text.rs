#![no_main]
#[path = "../bodies/text.rs"]
mod text;
#[path = "../bodies/wrapped.rs"]
#[allow(dead_code)]
mod wrapped;

libfuzzer_sys::fuzz_target!(|data: &[u8]| text::body(data));
