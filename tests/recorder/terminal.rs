//! A person at a terminal: a line that is kept up to date, notices that do not run into it, and a mark for each line typed.
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

use std::fs::File;
use std::io::{Read, Write};
use std::os::fd::OwnedFd;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use hitchwright_tests::Outcome;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::run_folder::{read_events, run_in};
use hitchwright_tests::verify::verify;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};

/// What is on the screen at the end: each line as it was written last.
fn screen(written: &str) -> Vec<String> {
    let written = written.replace("\r\n", "\n");
    written.split('\n').map(|line| line.rsplit("\r\x1b[K").next().unwrap_or_default().to_owned()).collect()
}

#[test]
fn a_person_sees_figures_on_one_line_and_notices_on_their_own_and_sets_marks() -> Outcome<()> {
    let field =
        Field::new()?.with_box("--speed-up 1 --working-s 30 --seed 61 --unplug-at 3 --unplug-for 0.5");
    let sensor_box = field.start_box()?;
    let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&master).and_then(|()| unlockpt(&master)).unwrap();
    let name = ptsname(&master, Vec::new()).unwrap().to_string_lossy().into_owned();
    let slave = || Stdio::from(OwnedFd::from(File::options().read(true).write(true).open(&name).unwrap()));
    let mut recorder = Command::new(Program::Recorder.path()?)
        .args(field.recorder_args("--duration 7s --units us"))
        .stdin(slave())
        .stdout(Stdio::null())
        .stderr(slave())
        .spawn()
        .unwrap();
    let mut keys = File::from(master);
    let mut heard = keys.try_clone().unwrap();
    // At the end of the recorder, the last who had the other side open, reading ends with an error.
    let reader = std::thread::spawn(move || {
        let (mut bytes, mut buffer) = (Vec::new(), [0; 4096]);
        while let Ok(length @ 1..) = heard.read(&mut buffer) {
            bytes.extend_from_slice(&buffer[..length]);
        }
        String::from_utf8_lossy(&bytes).into_owned()
    });
    let began = Instant::now();
    while hitchwright_tests::run_folder::runs_in(&field.runs()).unwrap().is_empty() {
        assert!(began.elapsed() < SOON, "no run begins");
        std::thread::sleep(Duration::from_millis(20));
    }
    std::thread::sleep(Duration::from_millis(1500));
    keys.write_all(b"\n").unwrap();
    std::thread::sleep(Duration::from_millis(500));
    keys.write_all(b"stone\n").unwrap();
    let status = recorder.wait().unwrap();
    let written = reader.join().unwrap();
    assert!(status.success(), "{written}");
    // The box writes down what it sampled once a second.
    std::thread::sleep(Duration::from_millis(1200));
    drop(sensor_box);

    let figures = written.matches("\r\x1b[K").count();
    assert!(figures > 10, "the line was not kept up to date: {written:?}");
    let screen = screen(&written);
    let notice = screen.iter().find(|line| line.contains("hung up") || line.contains("gone")).cloned();
    assert!(notice.is_some_and(|notice| !notice.contains(" rows  ")), "{screen:?}");
    assert!(
        written.contains(" s  ") && written.contains("  pull ") && written.contains("BOX AWAY"),
        "{written:?}"
    );
    // What it shows is in the reader's units, as is how the plow stands by its description.
    assert!(
        written.contains(" lbf") && written.contains(" in  ") && written.contains("standing level: front ")
    );
    assert!(!written.contains(" N  ") && !written.contains(" mm"), "{written:?}");
    let run = run_in(&field.runs())?;
    let marks: Vec<_> = read_events(&run)?.into_iter().filter(|event| event.kind == "mark").collect();
    let details: Vec<&str> = marks.iter().map(|mark| mark.detail.as_str()).collect();
    assert_eq!(details, ["number=1; by=host", "number=2; by=host"]);
    verify(&run, &field.truth())?;
    Ok(())
}
