//! `plow.toml`: read or refused line by line, and what was read survives writing.

use ingest::plow::read_plow_text;
use std::path::Path;

/// Any text.
pub fn body(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    match read_plow_text(&text, Path::new("plow.toml")) {
        Err(error) => {
            let sentence = error.to_string();
            let is_fault = |line: &str| line.starts_with("plow.toml") || line.starts_with("    ");
            assert!(!sentence.is_empty() && sentence.lines().all(is_fault), "no faults: {sentence:?}");
        }
        Ok(plow) => {
            let written = toml::to_string(&plow)
                .unwrap_or_else(|error| panic!("a plow that cannot be written: {error}"));
            let again = read_plow_text(&written, Path::new("plow.toml"));
            assert_eq!(again.ok().as_ref(), Some(&plow), "a plow that does not survive writing:\n{written}");
            // What the checks let through must give calibrations or say why not.
            let _ = ingest::assemble::calibrated(&plow.sensors, &plow.own_sensors);
        }
    }
}
