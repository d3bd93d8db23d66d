#![no_main]
#[path = "../bodies/text.rs"]
mod text;

libfuzzer_sys::fuzz_target!(|data: &[u8]| text::body(data));
