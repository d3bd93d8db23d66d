//! `describe` at a real terminal of 80 columns: one plow in inches, with a step back, a slip, Ctrl-C, and taken up again.
#![cfg(target_os = "linux")]

use std::fs::File;
use std::io::{Read, Write};
use std::process::{Child, Command};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use hitchwright_tests::binaries::Program;
use ingest::plow::read_plow;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{Winsize, tcsetwinsize};

use crate::Scratch;

const LONG: Duration = Duration::from_secs(60);
const CTRL_C: &str = "\u{3}";

/// A terminal with the program in it.
struct Terminal {
    keys: File,
    seen: Arc<Mutex<Vec<u8>>>,
    child: Child,
}

impl Terminal {
    fn describe(file: &str) -> Self {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&master).and_then(|()| unlockpt(&master)).unwrap();
        tcsetwinsize(&master, Winsize { ws_row: 24, ws_col: 80, ws_xpixel: 0, ws_ypixel: 0 }).unwrap();
        let name = ptsname(&master, Vec::new()).unwrap().to_string_lossy().into_owned();
        let slave = || File::options().read(true).write(true).open(&name).unwrap();
        // Its own terminal, so that Ctrl-C reaches it, and a closed one too.
        let child = Command::new("setsid")
            .args(["--ctty".as_ref(), Program::Hitchwright.path().unwrap().as_os_str()])
            .args(["describe", file])
            .stdin(slave())
            .stdout(slave())
            .stderr(slave())
            .spawn()
            .unwrap();
        let (keys, seen) = (File::from(master), Arc::new(Mutex::new(Vec::new())));
        let (mut from, to) = (keys.try_clone().unwrap(), Arc::clone(&seen));
        std::thread::spawn(move || {
            let mut buffer = [0; 4096];
            // Where the program has ended, reading ends with an error.
            while let Ok(length @ 1..) = from.read(&mut buffer) {
                to.lock().unwrap().extend_from_slice(&buffer[..length]);
            }
        });
        Self { keys, seen, child }
    }

    fn text(&self) -> String {
        String::from_utf8_lossy(&self.seen.lock().unwrap()).replace("\r\n", "\n")
    }

    /// Types this, and waits until it is answered with what has this in it, wherever its lines end.
    fn types(&mut self, keys: &str, part: &str) {
        let before = if keys.is_empty() { 0 } else { self.seen.lock().unwrap().len() };
        self.keys.write_all(keys.as_bytes()).unwrap();
        let begun = Instant::now();
        loop {
            let new = String::from_utf8_lossy(&self.seen.lock().unwrap()[before..])
                .split_whitespace()
                .collect::<Vec<_>>()
                .join(" ");
            if new.contains(part) {
                return;
            }
            assert!(begun.elapsed() < LONG, "{part:?} did not come:\n{}", self.text());
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Exit status once it has ended.
    fn ends(&mut self) -> Option<i32> {
        let begun = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status.code();
            }
            assert!(begun.elapsed() < LONG, "it does not end:\n{}", self.text());
            std::thread::sleep(Duration::from_millis(20));
        }
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

#[test]
fn a_plow_is_described_at_a_terminal_in_two_sittings() {
    let scratch = Scratch::new();
    let file = scratch.path("plow.toml");
    let mut first = Terminal::describe(&file);
    first.types("1\n", "1 of 25: name of the plow");
    first.types("The shop\'s (invented)\n", "2 of 25: front wheel, diameter");
    first.types("wide\n", "\'wide\' does not start with a number");
    first.types("24\n", "3 of 25: what the front wheels run on");
    first.types("furrow\n", "4 of 25: hitch pin at the plow (H), place");
    first.types("back\n", "Your answer: furrow. Enter keeps it and goes on with question 4.");
    first.types("land\n", "4 of 25: hitch pin at the plow (H), place");
    first.types("12\n", "5 of 25: holes at the plow (H), heights");
    first.types("1, 1 apart, 9 holes\n", "6 of 25:");
    first.types(CTRL_C, "plow.toml.part; the same command goes on from there");
    assert_eq!(first.ends(), Some(1), "{}", first.text());
    assert!(first.text().contains("Ctrl-C was pressed: answers kept in "), "{}", first.text());

    let mut second = Terminal::describe(&file);
    second.types("", "taking up again after 6 answers");
    second.types("\n\n44\n10, 1 apart, 7 holes\n\n2\n14\n", "13 of 25: working depth");
    second.types("44\n", "44 in is deeper than a bottom is wide (14 in). Keep it? [y/n]");
    second.types("n\n", "13 of 25: working depth");
    second.types("7\nsharp\n-28\n\n-75\n18\nfurrow\n0, 0; 2, 300\n\n", "22 of 25: weight");
    // Both ends on scales: the place of the weight follows and is not asked for.
    second.types("526 + 239\n", "24 of 25:");
    second.types("9\nhole 2\n", "all is answered. Enter writes");
    second.types("\n", "written and read again");
    assert_eq!(second.ends(), Some(0), "{}", second.text());
    assert!(
        second.text().contains("standing level: front 526 lbf, tail 239 lbf (31 %)"),
        "{}",
        second.text()
    );

    let plow = read_plow(file.as_ref()).unwrap();
    let inches = |m: f64| (m / 0.0254 * 1e6).round() / 1e6;
    assert_eq!(plow.name, "The shop\'s (invented)");
    assert_eq!(
        [plow.plow_hitch.x.si(), plow.tail.x().si(), plow.bottoms.depth.m()].map(inches),
        [12.0, -75.0, 7.0]
    );
    assert_eq!(
        plow.plow_hitch.holes.iter().map(|hole| inches(hole.z.si())).collect::<Vec<_>>(),
        [1., 2., 3., 4., 5., 6., 7., 8., 9.]
    );
    for said in [first.text(), second.text()] {
        let asked = said.split("standing level").next().unwrap_or_default();
        let wide = asked.lines().find(is_wide);
        assert!(wide.is_none() && !said.contains('\u{1b}'), "{wide:?}");
    }
}

/// What stands in the file of answers.
fn kept(file: &str) -> String {
    std::fs::read_to_string(format!("{file}.part")).unwrap()
}

/// Found by a plowman: going back threw answers away, untold. Now each stays, shown, until another is given; a jump by
/// number comes back to where it was; and what hangs on a changed answer is asked again.
#[test]
fn going_back_loses_nothing() {
    let scratch = Scratch::new();
    let file = scratch.path("plow.toml");
    let mut first = Terminal::describe(&file);
    first.types(
        "1\nThe shop's (invented)\n24\nboth\n",
        "answer for the wheel that carries more, land or furrow",
    );
    first.types("land\n12\n1, 1 apart, 9 holes\n\n1/2\n5'10\"\n", "9 of 25: holes at the tractor");
    let all = kept(&file);
    first.types("back\n", "Your answer: 5'10\". Enter keeps it and goes on with question 9.");
    first.types("back\n", "7 of 25: washer that the pin at the plow is packed with (may be left out)");
    first.types("?\n", "the verdict does not use it");
    assert_eq!(kept(&file), all);
    // Left while it was gone back to.
    first.types(CTRL_C, "plow.toml.part; the same command goes on from there");
    assert_eq!((first.ends(), kept(&file)), (Some(1), all));

    let mut second = Terminal::describe(&file);
    second.types("", "taking up again after 9 answers");
    second.types("", "9 of 25: holes at the tractor");
    second.types(
        "back 7\n",
        "Your answer: 1/2. Enter keeps it and goes on with question 9; none leaves it out.",
    );
    second.types("\n", "9 of 25: holes at the tractor");
    second.types("back 7\nnone\n", "left out: then no move can be tried in washers");
    second.types("back 0\n", "questions are numbered 1 to 25");
    second.types(
        "10, 1 apart, 7 holes\n\n2\n14\n7\nsharp\n-28\n\n-98\n18\nfurrow\n0, 0; 2, 300\n\n",
        "22 of 25",
    );
    second.types("63\n", "63 lbf is little for a plow on wheels with 2 bottoms");
    second.types("n\n610\n", "23 of 25: place of the weight");
    second
        .types("63 in\n", "Then write -35 in. If it was held at 0 and the point is behind it, write -63 in.");
    second.types("-35\n", "24 of 25");
    second.types("list\n", "7 washer that the pin at the plow is packed with: (left out)");
    let all = kept(&file);
    // From the end to the depth: the heights above the land are asked again, nothing else, and Enter keeps each.
    second.types("back 13\n", "Your answer: 7. Enter keeps it and goes on with question 24.");
    second.types("on\n", "24 of 25");
    assert_eq!(kept(&file), all);
    second.types("back 13\n8\n", "asked again because of that (Enter keeps each): 5, 9");
    second.types("", "5 of 25: holes at the plow (H), heights");
    second.types("\n", "Asked again, for another answer that it hangs on is not what it was. Your answer: 10, 1 apart, 7 holes.");
    // Left there, it is still to be asked.
    second.types(CTRL_C, "the same command goes on from there");
    assert_eq!(second.ends(), Some(1));
    let mut third = Terminal::describe(&file);
    third.types("", "9 of 25: holes at the tractor");
    third.types("\n", "your holes: 1 at 1 in, 2 at 2 in");
    third.types("9 in\n", "settings.today.plow_hole = \"9\"");
    // A shorter row, of which the hole in use is none.
    third.types("back 5\n1, 1 apart, 3 holes\n", "asked again because of that (Enter keeps each): 24");
    third.types("\n", "there is no hole \"9 in\": they are 1 at 1 in");
    third.types("3\n", "25 of 25");
    // Another place of the tail puts that of the weight in doubt: it is asked back where it stands.
    third.types("back 17\n-60\n", "-35 in puts 58 % of the standing weight on the tail");
    third.types("y\n", "asked again because of that (Enter keeps each): 23");
    third.types("-20\n", "25 of 25");
    third.types("2\n", "all is answered. Enter writes");
    third.types("back 1\nThe barn's (invented)\n", "all is answered. Enter writes");
    third.types("\n", "written and read again");
    assert_eq!(third.ends(), Some(0));
    let plow = read_plow(file.as_ref()).unwrap();
    let inches = |m: f64| (m / 0.0254 * 1e6).round() / 1e6;
    assert_eq!(
        [plow.link.length.si(), plow.tail.x().si(), plow.bottoms.depth.m(), plow.weight.x.si()].map(inches),
        [70.0, -60.0, 8.0, -20.0]
    );
    assert_eq!((plow.name.as_str(), plow.plow_hitch.washer), ("The barn's (invented)", None));
    assert_eq!((plow.plow_hitch.holes.len(), plow.tractor_hitch.holes.len()), (3, 7));
    assert!(!std::fs::exists(format!("{file}.part")).unwrap());
    for said in [first.text(), second.text(), third.text()] {
        let asked = said.split("standing level").next().unwrap_or_default();
        let wide = asked.lines().find(is_wide);
        assert!(wide.is_none() && !said.contains('\u{1b}'), "{wide:?}");
    }
}

/// Of what the program wrote: the terminal's echo of a key is none of it.
fn is_wide(line: &&str) -> bool {
    let written = line.trim_start_matches("> ").trim_start_matches("^C");
    written.chars().count() > 80 && !line.contains(".part")
}

/// A window that is closed keeps what was answered in it.
#[test]
fn a_closed_terminal_keeps_the_answers() {
    let scratch = Scratch::new();
    let file = scratch.path("plow.toml");
    let mut closed = Terminal::describe(&file);
    closed.types("1\n", "1 of 25");
    closed.types("A plow (invented)\n", "2 of 25");
    // The thread that reads has the terminal open too: a closed window is what its signal is.
    let pid = rustix::process::Pid::from_child(&closed.child);
    rustix::process::kill_process(pid, rustix::process::Signal::HUP).unwrap();
    assert_eq!(closed.ends(), Some(1));
    let mut again = Terminal::describe(&file);
    again.types("", "taking up again after 2 answers");
    again.types("quit\n", "the same command goes on from there");
    assert_eq!(again.ends(), Some(0));
}
