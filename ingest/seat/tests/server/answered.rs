//! Whoever asks the program itself for a run, its end or a mark hears what came of it, within two seconds and in words.

use crate::real::{Recorder, plow_toml};
use crate::rig::{Answer, get, post_wish};
use sample_runs::plow::Case;
use sample_runs::virtual_box::{BoxConfig, VirtualBox};
use std::net::SocketAddr;
use std::path::Path;
use std::time::{Duration, Instant};

const START: &str = r#"{"wish":"start","setting":"as-found"}"#;
const STOP: &str = r#"{"wish":"stop"}"#;
const MARK: &str = r#"{"wish":"mark"}"#;

fn asked(at: SocketAddr, wish: &str) -> Answer {
    // Nobody presses faster for long, and more is not taken.
    std::thread::sleep(Duration::from_millis(220));
    let begun = Instant::now();
    let answer = post_wish(at, wish, "");
    assert!(begun.elapsed() < Duration::from_secs(2), "{wish} was answered after {:?}", begun.elapsed());
    answer
}

fn is_refused(at: SocketAddr, wish: &str, why: &str) {
    let answer = asked(at, wish);
    assert_eq!(answer.status, 409, "{wish}: {}", answer.text());
    assert!(answer.text().contains(why), "{wish}: {}", answer.text());
}

fn until(at: SocketAddr, what: &str, is_so: impl Fn(&serde_json::Value) -> bool) {
    let begun = Instant::now();
    while !is_so(&get(at, "/status", "").json()) {
        assert!(begun.elapsed() < Duration::from_secs(10), "no {what}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn sensor_box(folder: &Path) -> VirtualBox {
    let link = Some(folder.join("port"));
    VirtualBox::open(BoxConfig { link, ..BoxConfig::of_case(Case::Balanced, 1, 60.0) }).unwrap()
}

fn folder_with_plow() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("plow.toml"), plow_toml()).unwrap();
    folder
}

#[test]
fn without_its_box_it_says_what_it_waits_for() {
    let folder = folder_with_plow();
    let (_recorder, at) = Recorder::start(folder.path(), &["--out", "runs"]);
    let waits = format!("waiting for {}: there is no such port", folder.path().join("port").display());
    // What there is instead is of the computer that this runs on.
    let said = |text: &serde_json::Value| text.as_str().is_some_and(|text| text.contains(&waits));
    until(at, "word of the port", |status| said(&status["troubles"][0]["text"]));
    let status = get(at, "/status", "").json();
    for order in ["start", "stop", "mark"] {
        assert!(said(&status["cannot"][order]), "{order}: {status}");
    }
    for wish in [START, STOP, MARK] {
        is_refused(at, wish, &waits);
    }
}

#[test]
fn a_run_is_answered_when_it_has_begun_or_cannot_begin() {
    let folder = folder_with_plow();
    let _box = sensor_box(folder.path());
    let (_recorder, at) = Recorder::start(folder.path(), &["--out", "runs"]);
    until(at, "recorder that stands by", |status| status["phase"] == "stands_by");
    is_refused(at, STOP, "No run is being recorded.");
    is_refused(at, MARK, "No run is being recorded.");

    // A file where the folder of runs was: nothing can be made in it, by whatever rights.
    let runs = folder.path().join("runs");
    let _ = std::fs::remove_dir_all(&runs);
    std::fs::write(&runs, "").unwrap();
    is_refused(at, START, "No run begins: ");
    is_refused(at, START, "cannot be made");
    let status = get(at, "/status", "").json();
    assert_eq!(status["phase"], "stands_by");
    let told = status["notices"].as_array().unwrap().first().unwrap()["text"].as_str().unwrap().to_owned();
    assert!(told.starts_with("no run begins: "), "the panel and who looks on are told, too: {told}");

    std::fs::remove_file(&runs).unwrap();
    let begun = asked(at, START);
    assert_eq!((begun.status, begun.text().as_str()), (200, "Started."));
    assert_eq!(get(at, "/status", "").json()["phase"], "recording", "it is so when it is answered");
    is_refused(at, START, "A run is being recorded: stop it first.");
    assert_eq!((asked(at, MARK).text(), asked(at, MARK).status), ("Mark set.".to_owned(), 200));
    assert_eq!(get(at, "/status", "").json()["run"]["marks"], 2);
    assert_eq!(asked(at, STOP).status, 200);
    assert_eq!(get(at, "/status", "").json()["phase"], "stands_by");
    assert_eq!(std::fs::read_dir(&runs).unwrap().count(), 1);
    is_refused(at, STOP, "No run is being recorded.");
}

/// Both pass the server before the recorder has begun a run.
#[test]
fn of_two_starts_at_once_one_run_comes() {
    let folder = folder_with_plow();
    let _box = sensor_box(folder.path());
    let (_recorder, at) = Recorder::start(folder.path(), &["--out", "runs"]);
    until(at, "recorder that stands by", |status| status["phase"] == "stands_by");
    let answers = std::thread::scope(|scope| {
        let starts = [scope.spawn(|| asked(at, START)), scope.spawn(|| asked(at, START))];
        starts.map(|start| start.join().unwrap())
    });
    assert!(answers.iter().any(|answer| answer.status == 200), "{answers:?}");
    assert!(answers.iter().all(|answer| [200, 409].contains(&answer.status)), "{answers:?}");
    assert_eq!(asked(at, STOP).status, 200);
    is_refused(at, STOP, "No run is being recorded.");
    assert_eq!(std::fs::read_dir(folder.path().join("runs")).unwrap().count(), 1);
}

/// One run with the program: its end is the program's, and is answered all the same.
#[test]
fn the_end_of_the_program_is_answered() {
    let folder = folder_with_plow();
    let _box = sensor_box(folder.path());
    let (_recorder, at) = Recorder::start(folder.path(), &["--setting", "as-found", "--into", "run"]);
    until(at, "run", |status| status["phase"] == "recording" && status["run"]["rows"].as_u64() > Some(100));
    let answer = asked(at, STOP);
    assert_eq!(answer.status, 200, "{}", answer.text());
}
