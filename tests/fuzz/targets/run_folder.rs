#![no_main]
/// The reader of run folders, compiled here by itself: the rest of `analysis` needs a typesetter.
#[allow(dead_code)]
#[allow(unused_imports)]
#[path = "../../../analysis/signals/src/run/mod.rs"]
mod run;
#[path = "../bodies/run_folder.rs"]
mod run_folder;
#[path = "../bodies/stored.rs"]
mod stored;

libfuzzer_sys::fuzz_target!(|data: &[u8]| {
    let folder = std::env::temp_dir().join(format!("hitchwright-fuzz-{}", std::process::id()));
    run_folder::body(data, &folder);
});
