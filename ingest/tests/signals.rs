//! What ends a recorder from outside. A program of its own, for a signal comes to all recorders of a process.
#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

use ingest::plow::read_plow_text;
use ingest::recorder::{Begin, Computer, Destination, Host, RecordConfig, View, Wish, record_by};
use std::path::Path;
use std::process::Command;
use std::sync::mpsc::{Sender, channel};
use std::time::Duration;

/// Says when the recorder is there.
struct Waits(Sender<()>);

impl View for Waits {
    fn notice(&mut self, _: &str) {
        self.0.send(()).unwrap();
    }
}

/// Three signals, each to a recorder that waits for a port.
#[test]
fn a_signal_ends_a_recorder_properly_and_its_controls_are_nobody_elses() {
    controls_are_one_recorders();
    for signal in ["HUP", "TERM", "INT"] {
        let folder = tempfile::tempdir().unwrap();
        let config = RecordConfig {
            ports: vec![folder.path().join("no port")],
            baud: 115_200,
            gnss: None,
            plow: read_plow_text(include_str!("recording/plow.toml"), Path::new("plow.toml")).unwrap(),
            begin: Begin::OnStart,
            setting_name: Some("low".to_owned()),
            setting_assumed: false,
            share: None,
            field: None,
            soil: None,
            soil_class: None,
            note: None,
            destination: Destination::In(folder.path().join("runs")),
            duration: None,
            stop_when_gone: None,
            passes_before: 0,
            software: "test".to_owned(),
        };
        let (says, said) = channel();
        let recorder = std::thread::spawn(move || {
            record_by(Computer::new(), &config, &mut Waits(says)).map(|recorded| recorded.runs)
        });
        said.recv_timeout(Duration::from_secs(30)).unwrap();
        let kill = format!("kill -{signal} {}", std::process::id());
        assert!(Command::new("sh").args(["-c", &kill]).status().unwrap().success());
        assert_eq!(recorder.join().unwrap().unwrap(), 0);
        assert!(!folder.path().join("runs").exists());
    }
}

fn controls_are_one_recorders() {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    runtime.block_on(async {
        let computer = Computer::without_keyboard();
        let mut wishes = computer.wishes().unwrap();
        computer.controls().wish(Wish::Mark).unwrap();
        assert_eq!(wishes.recv().await, Some(Wish::Mark));
        let error = computer.wishes().unwrap_err();
        assert_eq!(error.to_string(), "another recorder has its controls");
    });
}
