//! Runs that need not be kept go; those that are not copied stay.

use super::rig::{Rig, names};
use std::path::{Path, PathBuf};
use std::process::Command;

/// A run of a day long ago, as the stored ones.
fn old_run(parent: &Path, name: &str) -> PathBuf {
    let stored = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/runs/balanced");
    let run = parent.join(name);
    std::fs::create_dir_all(&run).unwrap();
    for file in names(&stored) {
        std::fs::copy(stored.join(&file), run.join(&file)).unwrap();
    }
    let text = std::fs::read_to_string(run.join("run.toml")).unwrap();
    let old = text.replacen("started = \"20", "started = \"19", 1);
    assert_ne!(text, old);
    std::fs::write(run.join("run.toml"), old).unwrap();
    run
}

fn new_run(parent: &Path, name: &str) {
    let run = old_run(parent, name);
    let text = std::fs::read_to_string(run.join("run.toml")).unwrap();
    let started = text.lines().find(|line| line.starts_with("started = ")).unwrap().to_owned();
    let now = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap().as_secs();
    let now = jiff::Timestamp::from_second(now as i64).unwrap();
    std::fs::write(run.join("run.toml"), text.replace(&started, &format!("started = \"{now}\""))).unwrap();
}

#[test]
fn old_runs_go_once_they_are_marked_as_copied_and_nothing_else_is_touched() {
    let mut rig = Rig::new();
    let runs = rig.path("runs");
    for name in ["copied", "changed", "uncopied"] {
        old_run(&runs, name);
    }
    new_run(&runs, "new");
    std::fs::create_dir(runs.join("letters")).unwrap();
    std::fs::write(runs.join("letters/a.txt"), "x").unwrap();
    let copied = |names: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_hitchwright-recorder"));
        let output = command.arg("copied").args(names.iter().map(|name| runs.join(name))).output().unwrap();
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    };
    assert_eq!(copied(&["copied", "changed", "new"]), (Some(0), String::new()));
    let (status, said) = copied(&["letters"]);
    assert!(status == Some(1) && said.contains("so this is no run"), "{said}");
    assert_eq!((said.matches("letters").count(), said.lines().count()), (1, 1), "{said}");
    std::fs::write(runs.join("changed/note.txt"), "seen again").unwrap();
    rig.configure("keep_days = 30");
    let service = rig.start();
    rig.wait_for_log("run deleted");
    rig.wait_to_hear("READY=1");
    assert_eq!(rig.runs(), ["changed", "letters", "new", "uncopied"]);
    assert!(service.end().0.success());
    let log = rig.log();
    assert!(log.contains("/runs/copied why=\"older than keep_days\""), "{log}");
    assert_eq!(log.matches("run deleted").count(), 1, "{log}");
}

#[test]
fn too_much_on_the_disk_that_may_not_go_is_told() {
    let mut rig = Rig::new();
    let runs = rig.path("runs");
    for name in ["a", "b", "c"] {
        old_run(&runs, name);
    }
    std::fs::create_dir(runs.join(".deleting-d")).unwrap();
    // A millionth of any disk is less than a run.
    rig.configure("keep_share_of_disk = 1e-9");
    let service = rig.start();
    let told = rig.wait_to_hear("more than keep_share_of_disk");
    assert!(told.contains("2 of them may not go because they are not copied"), "{told}");
    assert_eq!(rig.runs(), ["a", "b", "c"]);
    assert!(service.end().0.success());
    rig.configure("keep_share_of_disk = 1e-9\ndelete_uncopied = true");
    let service = rig.start();
    rig.wait_for_log("/runs/b why=");
    assert!(service.end().0.success());
    assert_eq!(rig.runs(), ["c"]);
}
