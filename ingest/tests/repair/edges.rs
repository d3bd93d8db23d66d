//! Runs of which little is left, runs with a receiver, and what cannot be read or written.

use super::*;
use ingest::gnss::GnssCounters;
use ingest::run_toml::GnssInfo;
use ingest::wire_file::{Record, WIRE_MAGIC, WireEvent, WireReader};

fn with_description(files: &mut Files, change: impl FnOnce(&mut RunDescription)) {
    let mut description = description(files);
    change(&mut description);
    files.insert("run.toml".to_owned(), description.to_toml().unwrap().into_bytes());
}

/// The run without its box: as another logger's file that was imported.
fn imported() -> Files {
    let mut files = stored();
    files.remove("plow.wire");
    with_description(&mut files, |description| {
        description.run.state = RunState::Imported;
        description.boxes.clear();
    });
    files.insert("events.csv".to_owned(), b"t_s,kind,detail\n".to_vec());
    files
}

/// A fix each second, as sentences, from the run's start on.
fn receiver_wire(seconds: u64, started_us: u64) -> Vec<u8> {
    let mut wire = WIRE_MAGIC.to_vec();
    let mut put = |host_us: u64, what| Record { host_us, what }.write_to(&mut wire);
    put(started_us.saturating_sub(1_000_000), WireEvent::PortOpened("gnss".to_owned()));
    put(started_us, WireEvent::Started);
    for second in 0..seconds {
        let body = format!("GPRMC,1200{second:02}.00,A,4807.0380,N,01131.0000,E,3.0,084.4,110427,,,A");
        let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
        let sentence = format!("${body}*{sum:02X}\r\n").into_bytes();
        put(started_us + 500_000 + second * 1_000_000, WireEvent::Received(sentence));
    }
    put(started_us + seconds * 1_000_000, WireEvent::Ended("Ctrl-C".to_owned()));
    wire
}

fn with_receiver(files: &Files) -> Files {
    let mut files = files.clone();
    let started = WireReader::new(&files["plow.wire"]).find(|record| record.what == WireEvent::Started);
    files.insert("gnss.wire".to_owned(), receiver_wire(40, started.unwrap().host_us));
    with_description(&mut files, |description| {
        description.gnss = Some(GnssInfo {
            port: "gnss".to_owned(),
            baud: 9600,
            talkers: vec!["GP".to_owned()],
            sentences: vec!["RMC".to_owned()],
            residual_ms: None,
            counters: None,
        });
    });
    let rebuilt = rebuild(put(&files).path(), None).unwrap();
    assert_eq!(rebuilt.notices, Vec::<String>::new());
    let names: Vec<&str> = rebuilt.files.iter().map(|file| file.name.as_str()).collect();
    assert_eq!(names, ["plow.csv", "gnss.csv", "events.csv"]);
    files.extend(rebuilt.files.into_iter().map(|file| (file.name, file.bytes)));
    files
}

#[test]
fn fixes_of_a_receiver_are_rebuilt_and_counted_as_rows_are() {
    let whole = with_receiver(&stored());
    let fixes = String::from_utf8(whole["gnss.csv"].clone()).unwrap();
    assert_eq!(fixes.lines().count(), 41, "{fixes}");
    assert!(fixes.lines().skip(1).all(|line| line.contains(",48.1173000,11.5166667,")), "{fixes}");
    let mut files = whole.clone();
    with_description(&mut files, |description| {
        description.run.state = RunState::Recording;
        (description.run.ended, description.run.lasted_s) = (None, None);
    });
    files.remove("gnss.csv");
    files.insert("datapackage.json".to_owned(), Vec::new());
    let (findings, after) = repaired(&files);
    let said: Vec<String> = findings.iter().map(ToString::to_string).collect();
    assert_eq!(said[0], "gnss.csv: is not there; made from the raw bytes, with 40 rows");
    assert_eq!(after["gnss.csv"], whole["gnss.csv"]);
    let package = String::from_utf8(after["datapackage.json"].clone()).unwrap();
    assert!(package.contains("gnss.csv") && package.contains("plow.csv"), "{package}");
    let receiver = description(&after).gnss.unwrap();
    let expected = GnssCounters { fixes: 40, sentences: 40, bytes: 40 * 69, ..GnssCounters::default() };
    assert_eq!(receiver.counters, Some(expected));
    let opened = open_run(put(&after).path()).unwrap();
    assert!(opened.gnss.is_some_and(|file| file.cut_bytes == 0 && file.whole_bytes > 1000));
}

/// Nothing is known of the rows of an imported run but what is in its file.
#[test]
fn an_imported_run_is_only_cut() {
    assert_eq!(repaired(&imported()).0, []);
    let mut files = imported();
    let whole_rows = files["plow.csv"].clone();
    files.get_mut("plow.csv").unwrap().extend(b"99.0");
    files.remove("events.csv");
    let (findings, after) = repaired(&files);
    assert_eq!(after["plow.csv"], whole_rows);
    assert_eq!(after["events.csv"], b"t_s,kind,detail\n");
    let said: Vec<String> = findings.iter().map(ToString::to_string).collect();
    let expected = [
        "plow.csv: 4 bytes are cut, from the first line on that is not whole",
        "events.csv: is not there; made from the raw bytes, with 0 events",
    ];
    assert_eq!(said, expected);
    assert_eq!(after["plow.csv.before-repair"], files["plow.csv"]);
}

/// What nobody has is not made up.
#[test]
fn a_table_without_a_whole_line_and_without_raw_bytes_stays_as_it_is() {
    for torn in [&b""[..], b"t_s,pull_n", b"\0\0\0\0\n", b"pull_n,t_s\n1,2\n"] {
        let mut files = imported();
        files.insert("plow.csv".to_owned(), torn.to_vec());
        let repair = Repair::of(put(&files).path()).unwrap();
        let hopeless = Finding::Hopeless { name: "plow.csv".to_owned() };
        let is_empty = torn.is_empty();
        // An empty file is neither better nor worse than none.
        assert_eq!(repair.findings, if is_empty { vec![] } else { vec![hopeless.clone()] }, "{torn:?}");
        assert_eq!(repair.beyond_repair().count(), usize::from(!is_empty));
        assert_eq!(repair.put_right().count(), 0);
        assert!(repair.is_nothing());
        if !is_empty {
            let said = hopeless.to_string();
            assert!(said.starts_with("plow.csv: there is no whole line in it"), "{said}");
        }
    }
    let mut files = imported();
    files.remove("plow.csv");
    let repair = Repair::of(put(&files).path()).unwrap();
    assert_eq!(repair.beyond_repair().count(), 1);
}

/// Counters of an ended run that somebody changed, or that a bad disk did.
#[test]
fn counters_that_the_raw_bytes_do_not_give_are_put_right() {
    let whole = stored();
    let mut files = whole.clone();
    with_description(&mut files, |description| {
        description.boxes[0].counters.as_mut().unwrap().rows += 1;
    });
    let changed = files["run.toml"].clone();
    let (findings, after) = repaired(&files);
    assert_eq!(findings, [Finding::Counters]);
    assert_eq!(description(&after), description(&whole));
    assert_eq!(after["run.toml.before-repair"], changed);
    // Raw bytes that are damaged do not say what was counted.
    files.insert("plow.wire".to_owned(), cut(&whole["plow.wire"], 4000));
    assert!(!repaired(&files).0.contains(&Finding::Counters));
}

#[test]
fn what_cannot_be_read_is_named_and_nothing_is_changed() {
    for name in ["plow.csv", "events.csv", "datapackage.json", "plow.wire"] {
        let mut files = killed();
        files.remove(name);
        let folder = put(&files);
        fs::create_dir(folder.path().join(name)).unwrap();
        let error = Repair::of(folder.path()).unwrap_err();
        assert!(matches!(&error, RepairError::Unreadable { path, .. } if path.ends_with(name)), "{error}");
        assert!(error.to_string().contains(name), "{error}");
    }
    let folder = tempfile::tempdir().unwrap();
    let error = Repair::of(folder.path()).unwrap_err().to_string();
    assert!(error.contains("run.toml") && error.ends_with("cannot be repaired"), "{error}");
}

/// A file beside it in which the old bytes might already be, and that cannot be read.
#[test]
fn a_place_for_the_old_bytes_that_cannot_be_read_stops_the_repair_before_it() {
    let whole = stored();
    let mut files = whole.clone();
    files.insert("plow.csv".to_owned(), [&whole["plow.csv"][..], b"999.000000,1.00,1.0000,1.000\n"].concat());
    let folder = put(&files);
    fs::create_dir(folder.path().join("plow.csv.before-repair")).unwrap();
    let repair = Repair::of(folder.path()).unwrap();
    let replaced = |name: &str, _: &[u8]| -> io::Result<()> { panic!("{name} was replaced") };
    let error = repair.carry_out(replaced).unwrap_err();
    assert!(error.to_string().contains("plow.csv.before-repair"), "{error}");
    assert_eq!(fs::read(folder.path().join("plow.csv")).unwrap(), files["plow.csv"]);
}

#[test]
fn findings_say_how_many_rows_or_events() {
    let name = |name: &str| name.to_owned();
    let said = |finding: Finding| finding.to_string();
    assert_eq!(
        said(Finding::Gained { name: name("plow.csv"), rows: 1 }),
        "plow.csv: 1 row gained from the raw bytes"
    );
    assert_eq!(
        said(Finding::Gained { name: name("events.csv"), rows: 1 }),
        "events.csv: 1 event gained from the raw bytes"
    );
    assert_eq!(
        said(Finding::Kept { name: name("events.csv"), rows: 2 }),
        "events.csv: its last 2 events are kept, though the raw bytes end or are damaged before them"
    );
    assert_eq!(
        said(Finding::MadeAnew { name: name("plow.csv"), before: 3, rows: 2 }),
        "plow.csv: is not what the raw bytes give (3 rows were in it); made anew from them, with 2"
    );
}
