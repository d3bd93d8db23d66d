//! Runs that a kill, a power cut or a bad disk has left, repaired.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

mod edges;

use ingest::open_run::open_run;
use ingest::rebuild::rebuild;
use ingest::repair::{Finding, Repair, RepairError};
use ingest::run_folder::write_whole;
use ingest::run_toml::{RunDescription, RunState, read_run_toml};
use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

type Files = BTreeMap<String, Vec<u8>>;

/// A disk whose n-th replacement fails, from 0.
struct FailingDisk {
    folder: PathBuf,
    left: Option<usize>,
}

impl FailingDisk {
    fn replace(&mut self, name: &str, bytes: &[u8]) -> io::Result<()> {
        match &mut self.left {
            Some(0) => return Err(io::Error::new(io::ErrorKind::StorageFull, "no space left")),
            Some(left) => *left -= 1,
            None => {}
        }
        write_whole(&self.folder.join(name), bytes)
    }
}

fn files_in(folder: &Path) -> Files {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries
        .map(|path| (path.file_name().unwrap().to_str().unwrap().to_owned(), fs::read(path).unwrap()))
        .collect()
}

/// A run that was recorded from a virtual box and ended properly.
fn stored() -> Files {
    files_in(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/runs/balanced"))
}

/// The same as its recorder would have left it if it had been killed at the end.
fn killed() -> Files {
    let mut files = stored();
    let folder = put(&files);
    let mut description = read_run_toml(&folder.path().join("run.toml")).unwrap();
    description.run.state = RunState::Recording;
    (description.run.ended, description.run.lasted_s) = (None, None);
    (description.boxes[0].clock, description.boxes[0].counters) = (None, None);
    files.insert("run.toml".to_owned(), description.to_toml().unwrap().into_bytes());
    files
}

fn put(files: &Files) -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in files {
        fs::write(folder.path().join(name), bytes).unwrap();
    }
    folder
}

/// Repairs a run; gives what was found and what is there then. A second repair must find nothing.
fn repaired(files: &Files) -> (Vec<Finding>, Files) {
    let folder = put(files);
    let repair = Repair::of(folder.path()).unwrap();
    let mut disk = FailingDisk { folder: folder.path().to_owned(), left: None };
    repair.carry_out(|name, bytes| disk.replace(name, bytes)).unwrap();
    let after = files_in(folder.path());
    let again = Repair::of(folder.path()).unwrap();
    assert!(again.is_nothing(), "{:?}, then {:?}", repair.findings, again.findings);
    assert!(again.carry_out(|name, bytes| disk.replace(name, bytes)).unwrap().is_empty());
    assert!(files_in(folder.path()) == after);
    (repair.findings, after)
}

fn description(files: &Files) -> RunDescription {
    read_run_toml(&put(files).path().join("run.toml")).unwrap()
}

fn cut(bytes: &[u8], from_end: usize) -> Vec<u8> {
    bytes[..bytes.len() - from_end].to_vec()
}

#[test]
fn a_run_that_is_whole_is_left_alone() {
    let (findings, after) = repaired(&stored());
    assert_eq!(findings, []);
    assert!(after == stored());
}

#[test]
fn a_file_of_an_ended_run_that_was_cut_anywhere_is_as_it_was() {
    let whole = stored();
    for name in ["plow.csv", "events.csv", "datapackage.json"] {
        let length = whole[name].len();
        let cuts = (1..length.min(1024)).step_by(37).chain([length]);
        for from_end in cuts {
            for zeros in [0, 700] {
                let mut files = whole.clone();
                let mut bytes = cut(&whole[name], from_end);
                bytes.extend(vec![0; zeros]);
                files.insert(name.to_owned(), bytes);
                let (findings, after) = repaired(&files);
                // Its last line end says nothing.
                if (name, from_end, zeros) == ("datapackage.json", 1, 0) {
                    assert!(findings.is_empty() && after == files);
                    continue;
                }
                assert!(!findings.is_empty() && after == whole, "{name} less {from_end}: {findings:?}");
            }
        }
        let mut files = whole.clone();
        files.remove(name);
        assert!(repaired(&files).1 == whole, "{name} was not there");
    }
}

/// What an ended run says of itself cannot be made up.
#[test]
fn a_run_toml_that_was_cut_is_refused_or_put_right() {
    let whole = stored();
    let length = whole["run.toml"].len();
    for from_end in (1..1024).step_by(29).chain([length]) {
        let mut files = whole.clone();
        files.insert("run.toml".to_owned(), cut(&whole["run.toml"], from_end));
        let folder = put(&files);
        match Repair::of(folder.path()) {
            Err(RepairError::Description(error)) => assert!(error.to_string().contains("run.toml")),
            Err(RepairError::UnknownWire(path)) => assert!(path.ends_with("plow.wire")),
            Err(error) => panic!("{error}"),
            Ok(_) => {
                let (_, after) = repaired(&files);
                let counted =
                    |files: &Files| description(files).boxes[0].counters.map(|counters| counters.rows);
                assert_eq!(counted(&after), counted(&whole), "{from_end}");
            }
        }
        assert!(files_in(folder.path()) == files, "looking changes nothing");
    }
}

/// Whatever is left of wire and table: the longer of the two is the run, and each of its rows is one of the original.
#[test]
fn a_killed_run_keeps_all_that_either_file_holds() {
    let whole = stored();
    let rows = |bytes: &[u8]| bytes.iter().filter(|byte| **byte == b'\n').count();
    let cuts = [1, 5, 40, 300, 650, 1000];
    for (number, wire_cut) in (0..1024).step_by(97).chain([4096]).enumerate() {
        for (csv_cut, zeros) in [(0, 0), (cuts[number % 6], 0), (cuts[(number + 1) % 6], 512), (8000, 0)] {
            let mut files = killed();
            let wire = cut(&whole["plow.wire"], wire_cut);
            let mut csv = cut(&whole["plow.csv"], csv_cut);
            let whole_rows = rows(&csv);
            csv.extend(vec![0; zeros]);
            files.insert("plow.wire".to_owned(), wire.clone());
            files.insert("plow.csv".to_owned(), csv.clone());
            let in_wire = rebuild(put(&files).path(), None).unwrap().files[0].bytes.clone();
            let (findings, after) = repaired(&files);
            let case = format!("wire less {wire_cut}, table less {csv_cut}: {findings:?}");
            assert!(whole["plow.csv"].starts_with(&after["plow.csv"]), "{case}");
            assert_eq!(rows(&after["plow.csv"]), whole_rows.max(rows(&in_wire)), "{case}");
            assert!(after["plow.wire"] == wire, "{case}");
            let said = description(&after);
            assert_eq!(said.run.state, RunState::Repaired, "{case}");
            let lasted_s = said.run.lasted_s.unwrap();
            assert!((60.0..100.0).contains(&lasted_s), "{lasted_s}: {case}");
            let there = rows(&after["plow.csv"]) as u64 - 1;
            let beyond = whole_rows > rows(&in_wire);
            assert_eq!(
                said.boxes[0].counters.map(|counters| counters.rows),
                (!beyond).then_some(there),
                "{case}"
            );
            assert_eq!(said.boxes[0].clock.is_some(), !beyond, "{case}");
            let kept =
                findings.iter().any(|one| matches!(one, Finding::Kept { name, .. } if name == "plow.csv"));
            assert_eq!(kept, beyond, "{case}");
            // A piece of a row that nobody has is kept beside; one that is there again is not.
            let torn = csv.iter().rposition(|byte| *byte != 0).map_or(&[][..], |at| &csv[..=at]);
            let beside = after.get("plow.csv.before-repair");
            assert_eq!(beside, (!after["plow.csv"].starts_with(torn)).then_some(&csv), "{case}");
            let opened = open_run(put(&after).path()).unwrap();
            assert_eq!(opened.files[0].cut_bytes, 0, "{case}");
        }
    }
}

/// A block of zeros in the middle is never bridged: the raw bytes give what was there, and where they are lost too, the
/// rows before it are the run.
#[test]
fn a_lost_middle_is_made_anew_or_ends_the_run() {
    let whole = stored();
    let mut files = killed();
    let middle = whole["plow.csv"].len() / 2;
    files.get_mut("plow.csv").unwrap()[middle..middle + 512].fill(0);
    let (_, after) = repaired(&files);
    assert!(after["plow.csv"] == whole["plow.csv"]);
    let wire_middle = whole["plow.wire"].len() / 4;
    files.get_mut("plow.wire").unwrap()[wire_middle..wire_middle + 512].fill(0);
    let (findings, after) = repaired(&files);
    assert!(whole["plow.csv"].starts_with(&after["plow.csv"]));
    let lost = middle - after["plow.csv"].len();
    assert!(lost < 64, "{lost}: {findings:?}");
    assert_eq!(after["plow.csv.before-repair"], files["plow.csv"]);
    // Nothing left of the raw bytes at all: the same.
    for bytes in [Some(Vec::new()), None] {
        files.remove("plow.wire");
        files.extend(bytes.map(|bytes| ("plow.wire".to_owned(), bytes)));
        assert_eq!(repaired(&files).1["plow.csv"], after["plow.csv"]);
    }
}

/// A changed table gives way to the raw bytes; both versions of it stay beside it.
#[test]
fn what_is_cut_is_never_overwritten() {
    let whole = stored();
    let folder = put(&whole);
    let mut disk = FailingDisk { folder: folder.path().to_owned(), left: None };
    let mut kept = Vec::new();
    for digit in [b'3', b'4', b'3'] {
        let mut csv = whole["plow.csv"].clone();
        let at = csv.len() - 2;
        csv[at] = digit;
        csv.extend(b"999.000000,1.00,1.0000,1.000\n");
        fs::write(folder.path().join("plow.csv"), &csv).unwrap();
        let repair = Repair::of(folder.path()).unwrap();
        assert_eq!(repair.differing, ["plow.csv"]);
        kept.extend(repair.carry_out(|name, bytes| disk.replace(name, bytes)).unwrap());
        assert!(files_in(folder.path())["plow.csv"] == whole["plow.csv"]);
        assert_eq!(files_in(folder.path())[kept.last().unwrap()], csv);
    }
    let names = ["plow.csv.before-repair", "plow.csv.before-repair-2", "plow.csv.before-repair"];
    assert_eq!(kept, names);
}

/// Whichever replacement the power cuts off, the next repair comes to the same.
#[test]
fn a_repair_that_is_cut_short_is_done_by_the_next() {
    let mut files = killed();
    let whole = stored();
    files.insert("plow.wire".to_owned(), cut(&whole["plow.wire"], 3000));
    files.insert("plow.csv".to_owned(), [&cut(&whole["plow.csv"], 6000)[..], b"x,y\nmore"].concat());
    files.remove("events.csv");
    files.insert("datapackage.json".to_owned(), b"{".to_vec());
    let (_, expected) = repaired(&files);
    let mut failures = 0;
    loop {
        let folder = put(&files);
        let mut disk = FailingDisk { folder: folder.path().to_owned(), left: Some(failures) };
        let cut_short = Repair::of(folder.path()).unwrap().carry_out(|name, bytes| disk.replace(name, bytes));
        let cut_short = match cut_short {
            Err(RepairError::Unwritten { .. }) => true,
            other => {
                other.unwrap();
                false
            }
        };
        assert!(repaired(&files_in(folder.path())).1 == expected, "after {failures}");
        if !cut_short {
            break;
        }
        failures += 1;
    }
    assert_eq!(failures, 5);
}

#[test]
fn a_run_that_is_being_recorded_is_not_touched() {
    let files = killed();
    let folder = put(&files);
    let wire = fs::File::open(folder.path().join("plow.wire")).unwrap();
    wire.try_lock().unwrap();
    let mut disk = FailingDisk { folder: folder.path().to_owned(), left: None };
    let repair = Repair::of(folder.path()).unwrap();
    assert!(repair.still_recording);
    assert!(matches!(
        repair.carry_out(|name, bytes| disk.replace(name, bytes)),
        Err(RepairError::StillRecording(_))
    ));
    assert!(files_in(folder.path()) == files);
}

/// While it is recorded a table is behind its raw bytes, and nothing is said of it; once nobody records it, what stands in
/// it and is not what the raw bytes give is.
#[test]
fn a_changed_table_of_a_killed_run_is_told_unless_it_is_being_recorded() {
    let mut files = killed();
    let csv = files.get_mut("plow.csv").unwrap();
    let (middle, end) = (csv.len() / 2, csv.len());
    let digit = csv[middle..end].iter().position(u8::is_ascii_digit).unwrap() + middle;
    csv[digit] = if csv[digit] == b'5' { b'6' } else { b'5' };
    let folder = put(&files);
    let wire = fs::File::open(folder.path().join("plow.wire")).unwrap();
    wire.try_lock().unwrap();
    assert_eq!(Repair::of(folder.path()).unwrap().differing, Vec::<String>::new());
    wire.unlock().unwrap();
    assert_eq!(Repair::of(folder.path()).unwrap().differing, ["plow.csv"]);
    let (findings, after) = repaired(&files);
    assert!(after["plow.csv"] == stored()["plow.csv"]);
    assert!(matches!(&findings[0], Finding::MadeAnew { name, .. } if name == "plow.csv"), "{findings:?}");
}
