#![no_main]
#[path = "../bodies/plow_toml.rs"]
mod plow_toml;

libfuzzer_sys::fuzz_target!(|data: &[u8]| plow_toml::body(data));
