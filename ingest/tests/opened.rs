//! What is said of a run folder in which something is not whole, is missing or cannot be read.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use ingest::description_file::DescriptionError;
use ingest::open_run::{OpenNotice, open_run};
use ingest::rebuild::{RebuildError, rebuild};
use ingest::run_toml::{GnssInfo, RunDescription, RunState, read_run_toml};
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// A stored run, copied.
fn copied() -> TempDir {
    let stored = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/runs/balanced");
    let folder = tempfile::tempdir().unwrap();
    for entry in fs::read_dir(stored).unwrap() {
        let path = entry.unwrap().path();
        fs::copy(&path, folder.path().join(path.file_name().unwrap())).unwrap();
    }
    folder
}

fn change(folder: &Path, change: impl FnOnce(&mut RunDescription)) {
    let path = folder.join("run.toml");
    let mut description = read_run_toml(&path).unwrap();
    change(&mut description);
    fs::write(path, description.to_toml().unwrap()).unwrap();
}

fn append(path: &Path, bytes: &[u8]) {
    let all = [fs::read(path).unwrap(), bytes.to_vec()].concat();
    fs::write(path, all).unwrap();
}

/// The sentences of a run, without its path.
fn said(folder: &Path) -> Vec<String> {
    let notices = open_run(folder).unwrap().notices;
    let prefix = folder.display().to_string();
    notices.iter().map(|notice| notice.to_string().replace(&prefix, "RUN")).collect()
}

#[test]
fn how_it_ended_is_told() {
    let folder = copied();
    assert_eq!(said(folder.path()), Vec::<String>::new());
    for (state, words) in [
        (
            RunState::Recording,
            vec!["was not ended properly (recorder killed, power cut, or still recording)"],
        ),
        (RunState::Repaired, vec!["was not ended properly (recorder killed or power cut) and was repaired"]),
        (RunState::Imported, vec![]),
    ] {
        change(folder.path(), |description| description.run.state = state);
        let said = said(folder.path());
        assert_eq!(said.len(), words.len(), "{said:?}");
        assert!(said.iter().zip(words).all(|(said, word)| said.contains(word)), "{said:?}");
    }
}

#[test]
fn torn_lines_are_left_out_with_their_length() {
    let folder = copied();
    let events = open_run(folder.path()).unwrap().events;
    append(&folder.path().join("plow.csv"), b"70.0,12");
    append(&folder.path().join("events.csv"), b"70.000000,mark,numb");
    let expected = [
        "RUN/plow.csv: torn last row of 7 bytes left out",
        "RUN/events.csv: torn last event of 19 bytes left out",
    ];
    assert_eq!(said(folder.path()), expected);
    assert_eq!(open_run(folder.path()).unwrap().events, events);
}

/// Events explain rows; a run without them is still a run.
#[test]
fn events_that_cannot_be_read_are_told_and_the_rows_are_there() {
    let folder = copied();
    let file = folder.path().join("events.csv");
    append(&file, b"nonsense\n70.000000,mark,number=1; by=host\n");
    let opened = open_run(folder.path()).unwrap();
    let [OpenNotice::BadEvents { lines: 1, first_line, .. }] = opened.notices[..] else {
        panic!("{:?}", opened.notices)
    };
    assert_eq!(fs::read_to_string(&file).unwrap().lines().nth(first_line - 1), Some("nonsense"));
    assert_eq!(opened.events.last().map(|event| event.kind.name()), Some("mark"));

    // More than any run has: its last line end is there, so all of it would be read.
    let huge = fs::File::options().write(true).open(&file).unwrap();
    huge.set_len(65 * 1024 * 1024).unwrap();
    append_at_end(&file);
    let opened = open_run(folder.path()).unwrap();
    assert!(opened.events.is_empty() && opened.files[0].whole_bytes > 0);
    assert!(said(folder.path())[0].contains("bytes is too large: events are not known"));

    fs::remove_file(&file).unwrap();
    assert!(said(folder.path())[0].starts_with("RUN/events.csv: "));
    assert!(said(folder.path())[0].ends_with(": events are not known"));
}

fn append_at_end(path: &Path) {
    use std::io::Write;
    fs::File::options().append(true).open(path).unwrap().write_all(b"\n").unwrap();
}

#[test]
fn fixes_that_were_recorded_and_are_not_there_are_told() {
    let folder = copied();
    // A run without a receiver needs none.
    assert_eq!(open_run(folder.path()).unwrap().gnss, None);
    let file = folder.path().join("gnss.csv");
    fs::write(&file, "t_s,lat_deg,lon_deg,speed_mps,course_deg\n0.1,4").unwrap();
    let found = open_run(folder.path()).unwrap().gnss.unwrap();
    assert_eq!((found.whole_bytes, found.cut_bytes), (41, 5));
    assert_eq!(said(folder.path()), ["RUN/gnss.csv: torn last row of 5 bytes left out"]);
    fs::remove_file(&file).unwrap();
    change(folder.path(), |description| {
        description.gnss = Some(GnssInfo {
            port: "port".to_owned(),
            baud: 9600,
            talkers: Vec::new(),
            sentences: Vec::new(),
            residual_ms: None,
            counters: None,
        });
    });
    let said = said(folder.path());
    assert!(said[0].starts_with("RUN/gnss.csv: ") && said[0].contains("are not known"), "{said:?}");
    // What cannot be read is not taken for what is not there.
    fs::create_dir(&file).unwrap();
    change(folder.path(), |description| description.gnss = None);
    assert_eq!(open_run(folder.path()).unwrap().notices.len(), 1);
}

#[test]
fn rows_that_cannot_be_read_are_an_error_that_names_the_file() {
    let folder = copied();
    fs::remove_file(folder.path().join("plow.csv")).unwrap();
    let error = open_run(folder.path()).unwrap_err();
    assert!(matches!(&error, DescriptionError::Unreadable { path, .. } if path.ends_with("plow.csv")));
    assert!(error.to_string().contains("`hitchwright check --repair` makes it again"), "{error}");
    fs::remove_file(folder.path().join("plow.wire")).unwrap();
    let error = open_run(folder.path()).unwrap_err();
    assert!(
        error.to_string().ends_with("copy the whole folder again from where the run was made"),
        "{error}"
    );
}

#[test]
fn a_run_without_its_raw_bytes_cannot_be_rebuilt_and_it_is_said_why() {
    let folder = copied();
    let wire = folder.path().join("plow.wire");
    fs::remove_file(&wire).unwrap();
    assert!(matches!(rebuild(folder.path(), None), Err(RebuildError::NoRawBytes(path)) if path == wire));
    fs::create_dir(&wire).unwrap();
    let unreadable = rebuild(folder.path(), None).unwrap_err();
    assert!(matches!(&unreadable, RebuildError::Unreadable { path, .. } if *path == wire), "{unreadable}");
    assert!(unreadable.to_string().contains("plow.wire"), "{unreadable}");
    change(folder.path(), |description| description.boxes.clear());
    let none = rebuild(folder.path(), None).unwrap_err();
    assert!(none.to_string().contains("was not recorded from a sensor box"), "{none}");
}

/// A run that was imported has no box, and its rows are in plow.csv all the same.
#[test]
fn rows_of_a_run_without_a_box_are_those_of_the_plow() {
    let folder = copied();
    change(folder.path(), |description| {
        description.boxes.clear();
        description.run.state = RunState::Imported;
    });
    let opened = open_run(folder.path()).unwrap();
    let files: Vec<_> = opened.files.iter().map(|file| file.path.file_name().unwrap().to_owned()).collect();
    assert_eq!(files, ["plow.csv"]);
    assert_eq!(opened.notices, []);
}
