//! The unattended recorder as its service manager sees it, on a scripted box over a pseudo-terminal.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

mod alive;
mod keeping;
mod rig;
#[path = "../../../tests/recording/scripted_box.rs"]
#[allow(dead_code, reason = "other tests use more of it")]
mod scripted_box;

use ingest::open_run::open_run;
use ingest::run_toml::RunState;
use rig::{PLOW, Rig, START};
use rustix::process::Signal;
use scripted_box::Act;
use std::process::Command;
use std::time::Duration;

/// A minute of rows: longer than any test here.
const FOR_LONG: Act = Act::Send(3000);

#[test]
fn a_description_that_cannot_be_used_is_status_2_and_one_sentence() {
    let rig = Rig::new();
    let path = rig.path("recorder.toml");
    let said = |change: &dyn Fn(String) -> String| {
        rig.configure("");
        std::fs::write(&path, change(std::fs::read_to_string(&path).unwrap())).unwrap();
        let output = Command::new(env!("CARGO_BIN_EXE_hitchwright-recorder"))
            .arg("--config")
            .arg(&path)
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(2), "{output:?}");
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(said.lines().count(), 1, "{said}");
        said
    };
    let unknown = said(&|text| text.replace("setting", "setings"));
    assert!(unknown.contains("recorder.toml, line 2: setings: there is no such key"), "{unknown}");
    assert!(unknown.contains("did you mean `setting`?"), "{unknown}");
    let days = said(&|text| text.replace("folder =", "keep_days = -1.0\nfolder ="));
    assert!(days.contains("line 7: runs.keep_days: a number of days from 1 on"), "{days}");
    let missing = said(&|_| String::new());
    assert!(missing.contains("line 1: plow: missing: write text between quotation marks"), "{missing}");
    let large = said(&|_| "#".repeat(100_000));
    assert!(large.contains("too large for a recorder description"), "{large}");
}

/// No box, then one; SIGHUP in between; SIGTERM in the middle of its run.
#[test]
fn it_waits_for_a_box_that_comes_late_and_ends_its_run_within_a_second() {
    let mut rig = Rig::new();
    let mut service = rig.start();
    rig.wait_to_hear("READY=1");
    let status = rig.wait_to_hear("no such port");
    assert!(
        status.starts_with("STATUS=waiting for /") && status.contains("/port: there is no such port; "),
        "{status}"
    );
    // The status file is a second behind.
    std::thread::sleep(Duration::from_millis(1500));
    let now = rig.status();
    let told = now["troubles"].as_array().unwrap().iter().filter(|one| one["kind"] != "disk_nearly_full");
    let told: Vec<_> = told.map(|one| one["text"].as_str().unwrap()).collect();
    assert_eq!(told, [status.trim_start_matches("STATUS=")], "each thing once");
    service.signal(Signal::HUP);
    // It goes on looking, says that it is alive, and says nothing else.
    for _ in 0..5 {
        rig.wait_to_hear("WATCHDOG=1");
    }
    assert!(service.is_running());
    let acts = rig.plug(vec![FOR_LONG]);
    rig.press_start();
    let told = rig.wait_to_hear("STATUS=recording ");
    assert!(told.contains(" since ") && told.len() < 80, "{told}");
    for _ in 0..5 {
        rig.wait_to_hear("WATCHDOG=1");
    }
    // The status file is a second behind.
    std::thread::sleep(Duration::from_millis(1500));
    assert_eq!(rig.status()["phase"], "recording");
    // A manager reads what it is told; its queue is full by now.
    rig.heard();
    let (status, took) = service.end();
    assert!(!rig.path("status.json").exists(), "nothing is recorded any more, and no file says so");
    rig.wait_to_hear("STOPPING=1");
    assert!(status.success() && took < Duration::from_secs(1), "{status} after {took:?}\n{}", rig.log());
    let runs = rig.runs();
    assert_eq!(runs.len(), 1, "{runs:?}");
    let run = open_run(&rig.path("runs").join(&runs[0])).unwrap();
    assert_eq!(run.description.run.state, RunState::Ended);
    assert_eq!(run.description.run.ended.as_deref(), Some("stopped by SIGTERM"));
    assert!(run.description.boxes[0].counters.unwrap().rows > 100);
    // Quiet: a line for each thing that happened, each with its priority.
    let log = rig.log();
    let said = [
        "<6>service begins version=",
        "<6>plow description read file=",
        "<6>next run setting=low confirmed=false",
        "<6>page served address=127.0.0.1:",
        "<4>trouble kind=waiting text=\"waiting for ",
        "<6>SIGHUP: nothing to do",
        "<6>trouble is over kind=waiting",
        "<6>standing by",
        // By the start: nobody had said so before.
        "<6>chosen for the next run setting=low",
        "<6>run began run=2",
        "<6>run ended run=",
        "<6>service ends",
    ];
    assert_eq!(log.lines().count(), said.len(), "{log}");
    for (line, begins) in log.lines().zip(said) {
        assert!(line.starts_with(begins), "{begins:?}\n{log}");
    }
    drop(acts);
}

/// Chosen, and the power is cut: the next start names its runs so, and says that nobody has looked since.
#[test]
fn what_was_chosen_is_kept_over_a_restart_and_asked_for_anew() {
    let mut rig = Rig::new();
    std::fs::write(
        rig.path("plow.toml"),
        PLOW.replace(
            "[settings.low]",
            "[settings.high]\nplow_hole = \"1\"\ntractor_hole = \"1\"\n[settings.low]",
        ),
    )
    .unwrap();
    let text = std::fs::read_to_string(rig.path("recorder.toml")).unwrap();
    std::fs::write(rig.path("recorder.toml"), text.replace("\"hand\"", "\"plow\"")).unwrap();
    let service = rig.start();
    let _acts = rig.plug(vec![FOR_LONG]);
    rig.wish(r#"{"wish":"choose","setting":"high","share":"worn","field":"by the brook","note":"wet"}"#);
    rig.wait_for_log("chosen for the next run setting=high");
    std::thread::sleep(Duration::from_millis(1500));
    let asked = |rig: &Rig| rig.status()["troubles"].to_string().contains("unconfirmed");
    assert_eq!((&rig.status()["choice"]["note"], asked(&rig)), (&"wet".into(), false));
    service.kill();
    std::fs::remove_file(rig.path("port")).unwrap();
    let service = rig.start();
    let _acts = rig.plug(vec![FOR_LONG]);
    rig.wait_for_log("next run setting=high confirmed=false");
    rig.wait_for_log("<6>standing by");
    std::thread::sleep(Duration::from_millis(1500));
    let status = rig.status();
    assert_eq!((&status["choice"]["setting"], &status["choice"]["share"]), (&"high".into(), &"worn".into()));
    assert_eq!((&status["choice"]["field"], asked(&rig)), (&"by the brook".into(), true));
    assert_eq!(status["choice"]["assumed"], true);
    // By a start of its own, too, it is confirmed.
    rig.press_start();
    rig.wait_to_hear("STATUS=recording ");
    std::thread::sleep(Duration::from_millis(1500));
    assert!(!asked(&rig), "{}", rig.status());
    assert_eq!(rig.status()["choice"].get("assumed"), None);
    let (status, _) = service.end();
    assert!(status.success());
    assert!(rig.runs()[0].ends_with("_high"), "{:?}", rig.runs());
}

/// The power is cut in the middle of a run; the next start makes it whole, while it waits for the box.
#[test]
fn a_run_that_was_cut_is_repaired_at_the_next_start() {
    let mut rig = Rig::new();
    let service = rig.start();
    let _acts = rig.plug(vec![FOR_LONG]);
    rig.press_start();
    rig.wait_to_hear("STATUS=recording ");
    std::thread::sleep(Duration::from_millis(1500));
    service.kill();
    let name = rig.runs().remove(0);
    let run = rig.path("runs").join(&name);
    assert_eq!(open_run(&run).unwrap().description.run.state, RunState::Recording);
    std::fs::remove_file(rig.path("port")).unwrap();
    let service = rig.start();
    rig.wait_for_log("a run left unfinished is repaired");
    let state = || open_run(&run).unwrap().description.run.state;
    assert_eq!(state(), RunState::Repaired);
    assert!(rig.log().contains(&name));
    let (status, took) = service.end();
    assert!(status.success() && took < Duration::from_secs(1), "{status} after {took:?}");
    assert_eq!(rig.runs(), [name]);
}

#[test]
fn a_plow_description_that_breaks_is_told_and_the_last_good_one_goes_on() {
    let mut rig = Rig::new();
    std::fs::remove_file(rig.path("plow.toml")).unwrap();
    let service = rig.start();
    let none = rig.wait_to_hear("nothing is recorded without a plow description");
    assert!(none.contains("plow.toml: there is no such file"), "{none}");
    std::fs::write(rig.path("plow.toml"), PLOW).unwrap();
    let _acts = rig.plug(vec![FOR_LONG]);
    rig.press_start();
    rig.wait_to_hear("STATUS=recording ");
    std::fs::write(rig.path("plow.toml"), PLOW.replace("\"0.3 m\"", "0.3")).unwrap();
    let broken = rig.wait_to_hear("has no unit");
    assert!(broken.starts_with("STATUS=recording ") && broken.contains("plow.toml, line "), "{broken}");
    assert!(broken.contains("the plow description as it was goes on: "), "{broken}");
    std::fs::write(rig.path("plow.toml"), PLOW.replace("settings.low", "settings.high")).unwrap();
    rig.wait_to_hear("there is no setting \"low\" in it");
    std::fs::write(rig.path("plow.toml"), PLOW).unwrap();
    rig.wait_for_log("trouble is over kind=plow");
    let (status, _) = service.end();
    assert!(status.success());
    assert_eq!(rig.runs().len(), 1, "{}", rig.log());
}

/// The folder of runs cannot be made, as on a disk that is set read-only; once it can be, runs begin.
#[test]
fn a_folder_that_cannot_be_written_is_told() {
    let mut rig = Rig::new();
    std::fs::write(rig.path("runs"), "a file where the folder should be").unwrap();
    let service = rig.start();
    let _acts = rig.plug(vec![FOR_LONG]);
    let answer = rig.answer_to(START);
    assert!(answer.starts_with("HTTP/1.1 409 ") && answer.contains("cannot be made"), "{answer}");
    let told = rig.wait_to_hear("cannot be made");
    assert!(told.starts_with("STATUS=standing by") && told.contains("/runs"), "{told}");
    std::thread::sleep(Duration::from_millis(1500));
    let troubles = rig.status()["troubles"].to_string();
    assert!(troubles.contains("cannot be made"), "{troubles}");
    std::fs::remove_file(rig.path("runs")).unwrap();
    rig.press_start();
    rig.wait_to_hear("STATUS=recording ");
    let (status, _) = service.end();
    assert!(status.success());
    assert_eq!(rig.runs().len(), 1);
}
