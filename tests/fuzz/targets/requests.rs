#![no_main]
#[path = "../bodies/requests.rs"]
mod requests;

libfuzzer_sys::fuzz_target!(|data: &[u8]| requests::body(data));
