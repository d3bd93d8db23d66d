//! `hitchwright-recorder --panel` as a whole program on a real pseudo-terminal, with a virtual box.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]
#![cfg(target_os = "linux")]

use rustix::process::{Pid, Signal, kill_process};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{LocalModes, Winsize, tcgetattr, tcsetwinsize};
use sample_runs::plow::Case;
use sample_runs::virtual_box::{BoxConfig, VirtualBox};
use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

const LONG: Duration = Duration::from_secs(30);

/// A terminal with the program in it.
struct Terminal {
    master: File,
    slave: File,
    seen: Arc<Mutex<Vec<u8>>>,
    child: Child,
}

fn size(columns: u16, rows: u16) -> Winsize {
    Winsize { ws_row: rows, ws_col: columns, ws_xpixel: 0, ws_ypixel: 0 }
}

impl Terminal {
    fn start(arguments: &[&str]) -> Self {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&master).and_then(|()| unlockpt(&master)).unwrap();
        tcsetwinsize(&master, size(80, 24)).unwrap();
        let name = PathBuf::from(ptsname(&master, Vec::new()).unwrap().to_string_lossy().into_owned());
        let slave = File::options().read(true).write(true).open(name).unwrap();
        let master = File::from(master);
        // It gets the terminal for its own, so that it neither reads nor sizes itself by the one that the test runs in.
        let child = Command::new("setsid")
            .arg("--ctty")
            .arg(env!("CARGO_BIN_EXE_hitchwright-recorder"))
            .args(arguments)
            .env("LANG", "C.UTF-8")
            .env_remove("LC_ALL")
            .stdin(slave.try_clone().unwrap())
            .stdout(slave.try_clone().unwrap())
            .stderr(slave.try_clone().unwrap())
            .spawn()
            .unwrap();
        let seen = Arc::new(Mutex::new(Vec::new()));
        let (mut from, to) = (master.try_clone().unwrap(), Arc::clone(&seen));
        std::thread::spawn(move || {
            let mut buffer = [0; 4096];
            while let Ok(length) = from.read(&mut buffer) {
                to.lock().unwrap().extend_from_slice(&buffer[..length]);
            }
        });
        Self { master, slave, seen, child }
    }

    fn text(&self) -> String {
        String::from_utf8_lossy(&self.seen.lock().unwrap()).into_owned()
    }

    /// Waits until this is on the screen.
    fn wait_for(&self, part: &str) {
        let begun = Instant::now();
        while !screen(&self.text()).contains(part) {
            assert!(begun.elapsed() < LONG, "{part:?} did not come:\n{}", screen(&self.text()));
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    fn press(&mut self, keys: &str) {
        self.master.write_all(keys.as_bytes()).unwrap();
    }

    fn is_raw(&self) -> bool {
        !tcgetattr(&self.slave).unwrap().local_modes.intersects(LocalModes::ICANON | LocalModes::ECHO)
    }

    fn signal(&self, signal: Signal) {
        kill_process(Pid::from_child(&self.child), signal).unwrap();
    }

    fn wait_for_end(&mut self) -> ExitStatus {
        let begun = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                // What it wrote last is on its way.
                std::thread::sleep(Duration::from_millis(100));
                return status;
            }
            assert!(begun.elapsed() < LONG, "it does not end:\n{:?}", self.text());
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Demands that the terminal is as it was.
    fn assert_given_back(&self) {
        assert!(!self.is_raw(), "lines and echo are on again");
        let text = self.text();
        let (left, shown) = (text.rfind("\u{1b}[?1049l"), text.rfind("\u{1b}[?25h"));
        assert!(left.is_some() && shown.is_some(), "{text:?}");
        assert!(left > text.rfind("\u{1b}[?1049h"), "{text:?}");
    }
}

/// What a terminal shows after these bytes, as far as the panel uses it: text, and where it is put.
fn screen(text: &str) -> String {
    let (mut cells, mut at) = (vec![vec![' '; 132]; 50], (0_usize, 0_usize));
    let mut signs = text.chars().peekable();
    while let Some(sign) = signs.next() {
        if sign != '\u{1b}' {
            match sign {
                '\n' => at.0 += 1,
                '\r' => at.1 = 0,
                _ => {
                    if let Some(cell) = cells.get_mut(at.0).and_then(|line| line.get_mut(at.1)) {
                        *cell = sign;
                    }
                    at.1 += 1;
                }
            }
            continue;
        }
        if signs.next_if_eq(&'[').is_none() {
            continue;
        }
        let mut numbers = String::new();
        let end = loop {
            match signs.next() {
                Some(c) if c.is_ascii_alphabetic() => break c,
                Some(c) => numbers.push(c),
                None => break ' ',
            }
        };
        let number =
            |place: usize| numbers.split(';').nth(place).and_then(|one| one.parse().ok()).unwrap_or(1_usize);
        match end {
            'H' => at = (number(0) - 1, number(1) - 1),
            'J' => cells.iter_mut().flatten().for_each(|cell| *cell = ' '),
            _ => {}
        }
    }
    cells.into_iter().map(|line| line.into_iter().collect::<String>() + "\n").collect()
}

impl Drop for Terminal {
    fn drop(&mut self) {
        // `kill` on a child that was waited for does nothing.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn box_and_plow(folder: &Path) -> (VirtualBox, String, String) {
    let virtual_box = VirtualBox::open(BoxConfig::of_case(Case::Balanced, 1, 120.0)).unwrap();
    let port = virtual_box.path().to_string_lossy().into_owned();
    let plow = folder.join("plow.toml");
    std::fs::write(&plow, sample_runs::plow::Plow::TWO_BOTTOM_TOML).unwrap();
    (virtual_box, port, plow.to_string_lossy().into_owned())
}

fn only_run(folder: &Path) -> PathBuf {
    let runs: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.join("run.toml").exists())
        .collect();
    let [run] = &runs[..] else { panic!("{runs:?}") };
    run.clone()
}

#[test]
fn keys_start_mark_and_stop_a_run_and_the_terminal_is_given_back() {
    let folder = tempfile::tempdir().unwrap();
    let (virtual_box, port, plow) = box_and_plow(folder.path());
    let out = folder.path().to_string_lossy().into_owned();
    let mut terminal =
        Terminal::start(&["--port", &port, "--baud", "921600", "--plow", &plow, "--out", &out, "--panel"]);
    terminal.wait_for("Nobody rides on");
    assert!(terminal.is_raw());
    terminal.press(" ");
    terminal.wait_for("nothing is recorded");
    // The settings in the order of their names.
    terminal.press("h");
    terminal.wait_for("Next run: flat, sharp shares.");
    terminal.press("c");
    terminal.wait_for("Next run: flat, blunt shares.");
    terminal.press("s");
    terminal.wait_for("RECORDING");
    std::thread::sleep(Duration::from_millis(1_500));
    terminal.press("m");
    terminal.wait_for("Mark set.");
    // Another size is drawn as well.
    let drawn = |terminal: &Terminal| terminal.text().matches("\u{1b}[2J").count();
    let before = drawn(&terminal);
    tcsetwinsize(&terminal.master, size(60, 20)).unwrap();
    let begun = Instant::now();
    while drawn(&terminal) == before {
        assert!(begun.elapsed() < LONG, "nothing was drawn anew");
        std::thread::sleep(Duration::from_millis(20));
    }
    terminal.wait_for("last 20 s");
    terminal.press("x");
    terminal.wait_for("Stop this run?");
    std::thread::sleep(Duration::from_millis(500));
    let run = only_run(folder.path());
    let ended = || std::fs::read_to_string(run.join("run.toml")).unwrap().contains("stopped by the panel");
    assert!(!ended(), "one key stops nothing");
    terminal.press("x");
    terminal.wait_for("STANDS BY");
    let begun = Instant::now();
    while !ended() {
        assert!(begun.elapsed() < LONG, "the run has no end");
        std::thread::sleep(Duration::from_millis(50));
    }
    terminal.press("q");
    terminal.wait_for("End the program?");
    assert!(!screen(&terminal.text()).contains("RECORDING"));
    terminal.press("q");
    assert!(terminal.wait_for_end().success(), "{:?}", terminal.text());
    terminal.assert_given_back();
    let text = terminal.text();
    let after = &text[text.rfind("\u{1b}[?1049l").unwrap()..];
    assert!(after.contains("rows in") && after.contains("stopped by the panel"), "{after:?}");

    let read = |file: &str| std::fs::read_to_string(run.join(file)).unwrap();
    assert!(read("run.toml").contains("setting_name = \"flat\""), "{}", read("run.toml"));
    assert_eq!(
        read("events.csv").lines().filter(|line| line.contains(",mark,")).count(),
        1,
        "{}",
        read("events.csv")
    );
    assert!(read("plow.csv").lines().count() > 100);
    virtual_box.stop();
}

#[test]
fn a_signal_ends_the_run_and_gives_the_terminal_back() {
    let folder = tempfile::tempdir().unwrap();
    let (virtual_box, port, plow) = box_and_plow(folder.path());
    let out = folder.path().to_string_lossy().into_owned();
    let arguments = [
        "--port",
        &port,
        "--baud",
        "921600",
        "--plow",
        &plow,
        "--out",
        &out,
        "--setting",
        "middle",
        "--panel",
        "--live",
        "127.0.0.1:0",
    ];
    let mut terminal = Terminal::start(&arguments);
    terminal.wait_for("Any key goes on");
    terminal.press(" ");
    terminal.wait_for("RECORDING");
    terminal.press("l");
    terminal.wait_for("http://127.0.0.1:");
    terminal.signal(Signal::TERM);
    assert!(terminal.wait_for_end().success());
    terminal.assert_given_back();
    let run = std::fs::read_to_string(only_run(folder.path()).join("run.toml")).unwrap();
    assert!(run.contains("stopped by SIGTERM"), "{run}");
    virtual_box.stop();
}

#[test]
fn what_fails_before_a_run_gives_the_terminal_back_and_says_why() {
    let folder = tempfile::tempdir().unwrap();
    let (_virtual_box, _, plow) = box_and_plow(folder.path());
    let mut terminal =
        Terminal::start(&["--port", "no-such-port", "--plow", &plow, "--setting", "middle", "--panel"]);
    assert_eq!(terminal.wait_for_end().code(), Some(1));
    terminal.assert_given_back();
    let text = terminal.text();
    assert!(text[text.rfind("\u{1b}[?1049l").unwrap()..].contains("there is no port"), "{text:?}");
}

#[test]
fn without_a_terminal_there_is_no_panel_and_no_escape_code() {
    let folder = tempfile::tempdir().unwrap();
    let (_virtual_box, port, plow) = box_and_plow(folder.path());
    let output = Command::new(env!("CARGO_BIN_EXE_hitchwright-recorder"))
        .args(["--port", &port, "--plow", &plow, "--panel"])
        .stdin(Stdio::null())
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("--panel needs a terminal") && !said.contains('\u{1b}'), "{said:?}");
    assert!(output.stdout.is_empty());
}
