//! A run folder of which one file holds anything, repaired.

use super::records::event;
use super::script::records;
use super::stored::{put, run_of};
use ingest::repair::Repair;
use ingest::run_folder::write_whole;
use ingest::wire_file::WIRE_MAGIC;
use std::collections::BTreeMap;
use std::path::Path;

/// The first byte says which file the rest is, whether raw bytes are given as a script, in whole records, and whether the
/// run has a column of the user's own. Whatever it is, a repair takes nothing away, does all that is to be done at once, and never touches the raw bytes.
pub fn body(data: &[u8], folder: &Path) {
    let Some((form, data)) = data.split_first() else { return };
    let (stored, which) = (run_of(*form), usize::from(form % 4));
    // What the bytes before have left.
    let _ = std::fs::remove_dir_all(folder);
    if which == 3 && form & 4 != 0 {
        let mut wire = WIRE_MAGIC.to_vec();
        records(data, event).iter().for_each(|record| record.write_to(&mut wire));
        put(folder, stored, which, &wire);
    } else {
        put(folder, stored, which, data);
    }
    let before = files(folder);
    let repair = match Repair::of(folder) {
        Ok(repair) => repair,
        Err(error) => {
            let sentence = error.to_string();
            assert!(!sentence.is_empty() && sentence.lines().count() == 1, "not one line: {sentence:?}");
            assert_eq!(files(folder), before, "a refused repair changed something");
            return;
        }
    };
    assert_eq!(files(folder), before, "looking changed something");
    for sentence in repair.findings.iter().map(ToString::to_string).chain(repair.notices.iter().cloned()) {
        assert!(!sentence.is_empty() && sentence.lines().count() == 1, "not one line: {sentence:?}");
    }
    let replace = |name: &str, bytes: &[u8]| {
        assert!(Path::new(name).components().count() == 1, "{name} is beside the run");
        write_whole(&folder.join(name), bytes)
    };
    let kept = repair.carry_out(replace).unwrap_or_else(|error| panic!("it stopped: {error}"));
    let after = files(folder);
    for (name, old) in &before {
        let end = old.iter().rposition(|byte| *byte != 0).map_or(0, |at| at + 1);
        let is_in_new = after[name].starts_with(&old[..end]);
        let is_beside = kept.iter().any(|beside| after.get(beside) == Some(old));
        let is_own_text = name == "run.toml" || name == "datapackage.json";
        assert!(is_in_new || is_beside || is_own_text, "{name} lost what was in it");
    }
    assert_eq!(after["plow.wire"], before["plow.wire"]);
    if which == 1 || which == 2 {
        let rows = &after["plow.csv"];
        assert!(which == 1 || rows == stored[1].1, "events changed rows");
    }
    let again = Repair::of(folder).unwrap_or_else(|error| panic!("unreadable after its repair: {error}"));
    assert!(again.is_nothing(), "{:?}, then {:?}", repair.findings, again.findings);
}

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(folder).unwrap_or_else(|error| panic!("no folder: {error}"));
    let file = |entry: std::io::Result<std::fs::DirEntry>| {
        let path = entry.unwrap_or_else(|error| panic!("no entry: {error}")).path();
        let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
        (name, std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display())))
    };
    entries.map(file).collect()
}
