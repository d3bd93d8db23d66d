#![no_main]
#[allow(dead_code)] // what only the command uses
#[path = "../bodies/import.rs"]
mod import;

libfuzzer_sys::fuzz_target!(|data: &[u8]| import::body(data));
