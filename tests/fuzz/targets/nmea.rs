#![no_main]
#[path = "../bodies/nmea.rs"]
mod nmea;
#[path = "../bodies/script.rs"]
mod script;
#[path = "../bodies/wrapped.rs"]
#[allow(dead_code)]
mod wrapped;

libfuzzer_sys::fuzz_target!(|data: &[u8]| nmea::body(data));
