#![no_main]
#[allow(dead_code)] // the other targets' bodies
#[path = "../bodies/mod.rs"]
mod bodies;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let folder = std::env::temp_dir().join(format!("hitchwright-repair-{}", std::process::id()));
    bodies::repair::body(data, &folder);
});
