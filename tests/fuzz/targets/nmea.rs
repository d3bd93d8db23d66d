#![no_main]
#[path = "../bodies/nmea.rs"]
mod nmea;

libfuzzer_sys::fuzz_target!(|data: &[u8]| nmea::body(data));
