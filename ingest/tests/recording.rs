//! A scripted box on a pseudo-terminal, recorded by the library: what is on the disk afterwards.
#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

use firmware_protocol::{
    Channel, ChannelKind, Decoder, Event, Frame, Hello, Label, Readings, Status, Time, encode,
};
use ingest::open_run::open_run;
use ingest::plow::{SoilClass, read_plow_text};
use ingest::rebuild::rebuild;
use ingest::recorder::{Destination, NoView, RecordConfig, RecordError, RecordedRun, RunEnd, View, record};
use ingest::run_toml::{RunState, RunTime};
use std::fs::File;
use std::io::{Read, Write};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Rows of 2 ms, ten a frame: 50 frames a second.
const INTERVAL_US: u32 = 2000;
const FRAME_ROWS: u32 = 10;

/// What the box does.
#[derive(Clone, Copy, Debug)]
enum Act {
    /// Sends this many frames at their times.
    Send(u32),
    /// Samples a frame and does not send it.
    Lose,
    /// Pulls the cable for this long and comes back on another pseudo-terminal.
    Unplug(Duration),
    /// Keeps the port open and says nothing, sampling on.
    Silent(Duration),
}

fn open_pty() -> (File, PathBuf) {
    use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
    let master: OwnedFd = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
    grantpt(&master).unwrap();
    unlockpt(&master).unwrap();
    let name = PathBuf::from(ptsname(&master, Vec::new()).unwrap().to_string_lossy().into_owned());
    // Raw, or the box would hear its own echo.
    let slave = File::options().read(true).write(true).open(&name).unwrap();
    let mut modes = rustix::termios::tcgetattr(&slave).unwrap();
    modes.make_raw();
    rustix::termios::tcsetattr(&slave, rustix::termios::OptionalActions::Now, &modes).unwrap();
    let flags = rustix::fs::fcntl_getfl(&master).unwrap() | rustix::fs::OFlags::NONBLOCK;
    rustix::fs::fcntl_setfl(&master, flags).unwrap();
    (File::from(master), name)
}

/// A box of two channels.
struct ScriptedBox {
    /// Bytes of noise that its line brings before its hello.
    noise: usize,
    link: PathBuf,
    master: Option<File>,
    decoder: Decoder,
    power_up: Instant,
    started: bool,
    row: u32,
    next_us: u64,
}

impl ScriptedBox {
    fn new(link: &Path) -> Self {
        let mut scripted = Self {
            noise: 0,
            link: link.to_owned(),
            master: None,
            decoder: Decoder::new(),
            power_up: Instant::now(),
            started: false,
            row: 0,
            next_us: 0,
        };
        scripted.plug();
        scripted
    }

    fn plug(&mut self) {
        let (master, name) = open_pty();
        let _ = std::fs::remove_file(&self.link);
        std::os::unix::fs::symlink(name, &self.link).unwrap();
        self.master = Some(master);
    }

    fn clock_us(&self) -> u64 {
        self.power_up.elapsed().as_micros() as u64
    }

    fn send(&mut self, frame: &Frame) {
        if let Some(master) = &mut self.master {
            // Nobody listening is not the box's concern.
            let _ = master.write(encode(frame).as_bytes());
        }
    }

    fn hello(&mut self) {
        let channel =
            |name, kind| Channel { name: Label::new(name).unwrap(), kind, adc_bits: 16, rate_mhz: 500_000 };
        let table = [channel("pull", ChannelKind::Pull), channel("depth", ChannelKind::Depth)];
        let (serial, name) = (Label::new("T1").unwrap(), Label::new("test box").unwrap());
        let hello = Hello::new(3, (1, 0, 0), 500_000, serial, name, &table).unwrap();
        self.send(&Frame::Hello(hello));
    }

    /// Answers what the host says until a time.
    fn serve_until(&mut self, until: Instant) {
        loop {
            let mut buffer = [0; 512];
            let length = self.master.as_mut().map_or(0, |master| master.read(&mut buffer).unwrap_or(0));
            let mut bytes = &buffer[..length];
            while let Some(event) = self.decoder.next_event(&mut bytes) {
                match event {
                    Event::Frame(Frame::Ping { token }) => {
                        let clock_us = self.clock_us() as u32;
                        self.send(&Frame::Time(Time { token, clock_us }));
                    }
                    Event::Frame(Frame::Start) => {
                        self.started = true;
                        self.hello();
                    }
                    Event::Frame(Frame::Stop) => self.started = false,
                    _ => {}
                }
            }
            if Instant::now() >= until {
                return;
            }
            std::thread::sleep(Duration::from_millis(1));
        }
    }

    fn counts(row: u32) -> [i32; 2] {
        [1000 + (row * 7 % 30_000) as i32, 1 + (row % 2000) as i32]
    }

    fn frame(&mut self) -> Readings {
        let counts: Vec<i32> = (0..FRAME_ROWS).flat_map(|k| Self::counts(self.row + k)).collect();
        let readings = Readings::new(self.row, self.next_us as u32, INTERVAL_US, 2, &counts).unwrap();
        self.row += FRAME_ROWS;
        self.next_us += u64::from(INTERVAL_US * FRAME_ROWS);
        let due = self.power_up + Duration::from_micros(self.next_us);
        self.serve_until(due);
        readings
    }

    fn make_noise(&mut self) {
        let mut left = self.noise;
        // Anything but an end of a frame or the beginning of a sentence.
        let noise: Vec<u8> = (0..4096).map(|k| 128 | (k * 37 % 251) as u8).collect();
        while let Some(master) = self.master.as_mut().filter(|_| left > 0) {
            match master.write(&noise[..noise.len().min(left)]) {
                Ok(length) => left -= length,
                Err(_) => std::thread::sleep(Duration::from_millis(1)),
            }
        }
    }

    fn run(mut self, acts: Vec<Act>) {
        self.make_noise();
        let begun = Instant::now();
        while !self.started {
            assert!(begun.elapsed() < Duration::from_secs(10), "no start came");
            self.hello();
            self.serve_until(Instant::now() + Duration::from_millis(100));
        }
        self.next_us = self.clock_us();
        for act in acts {
            match act {
                Act::Send(frames) => {
                    for k in 0..frames {
                        let readings = self.frame();
                        self.send(&Frame::Readings(readings));
                        if k % 50 == 0 {
                            let uptime_ms = (self.clock_us() / 1000) as u32;
                            let (supply_mv, temperature_centi_c) = (12_000, 2_000);
                            self.send(&Frame::Status(Status {
                                uptime_ms,
                                rows_dropped: 0,
                                supply_mv,
                                temperature_centi_c,
                            }));
                        }
                    }
                }
                Act::Lose => drop(self.frame()),
                Act::Unplug(time) => {
                    self.master = None;
                    std::thread::sleep(time);
                    self.skip();
                    self.plug();
                }
                Act::Silent(time) => {
                    let until = Instant::now() + time;
                    // Reads what the host says, so that its writes do not fail, and answers nothing.
                    while Instant::now() < until {
                        let _ = self.master.as_mut().map(|master| master.read(&mut [0; 512]));
                        std::thread::sleep(Duration::from_millis(5));
                    }
                    self.skip();
                }
            }
        }
        // What was written last is still in the terminal when it is closed.
        std::thread::sleep(Duration::from_millis(100));
    }

    /// Rows whose time went by.
    fn skip(&mut self) {
        while self.next_us < self.clock_us() {
            self.row += FRAME_ROWS;
            self.next_us += u64::from(INTERVAL_US * FRAME_ROWS);
        }
    }
}

struct Rig {
    folder: tempfile::TempDir,
    acts: std::thread::JoinHandle<()>,
}

impl Rig {
    fn new(acts: Vec<Act>) -> Self {
        Self::after_noise(0, acts)
    }

    fn after_noise(noise: usize, acts: Vec<Act>) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let scripted = ScriptedBox { noise, ..ScriptedBox::new(&folder.path().join("port")) };
        Self { folder, acts: std::thread::spawn(move || scripted.run(acts)) }
    }

    fn config(&self) -> RecordConfig {
        RecordConfig {
            ports: vec![self.folder.path().join("port")],
            baud: 921_600,
            gnss: None,
            plow: read_plow_text(include_str!("plow.toml"), Path::new("plow.toml")).unwrap(),
            setting_name: "low".to_owned(),
            share: None,
            field: Some("=\"invented\" field\n".to_owned()),
            soil: None,
            soil_class: Some(SoilClass::Medium),
            note: Some("../../x".to_owned()),
            destination: Destination::Folder(self.folder.path().join("run")),
            duration: None,
            stop_when_gone: Some(Duration::from_millis(1200)),
            software: "test".to_owned(),
        }
    }

    fn record(self) -> (RecordedRun, tempfile::TempDir) {
        let run = record(&self.config(), &mut NoView).unwrap();
        self.acts.join().unwrap();
        (run, self.folder)
    }
}

/// The promises that every run keeps: each row is one that was sampled, in order and once, times rise,
/// and a rebuild gives the same bytes. Returns the events' kinds and the row numbers written.
fn verify(folder: &Path) -> (Vec<&'static str>, Vec<u32>) {
    let run = open_run(folder).unwrap();
    assert!(run.notices.is_empty(), "{:?}", run.notices);
    assert!(run.description.ended_properly());
    let text = std::fs::read_to_string(folder.join("plow.csv")).unwrap();
    let mut lines = text.lines();
    assert_eq!(lines.next(), Some("t_s,pull_n,depth_mm"));
    let (mut numbers, mut last_t, mut number) = (Vec::new(), -1.0, 0u32);
    for line in lines {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        assert!(cells[0] > last_t, "{line}");
        last_t = cells[0];
        while {
            let [pull, depth] = ScriptedBox::counts(number);
            let (pull_n, depth_mm) = (0.5 * f64::from(pull - 1000), 0.1 * f64::from(depth));
            (pull_n - cells[1]).abs() > 0.006 || (depth_mm - cells[2]).abs() > 0.0006
        } {
            number += 1;
            assert!(number < 1_000_000, "no row was sampled like {line}");
        }
        numbers.push(number);
        number += 1;
    }
    let rebuilt = rebuild(folder, None).unwrap();
    assert_eq!(rebuilt.notices, Vec::<String>::new());
    for file in rebuilt.files {
        assert_eq!(std::fs::read(folder.join(&file.name)).unwrap(), file.bytes, "{}", file.name);
    }
    assert_eq!(Some(rebuilt.counters[0]), run.description.boxes[0].counters);
    (run.events.iter().map(|event| event.kind.name()).collect(), numbers)
}

#[test]
fn a_run_with_a_lost_frame_is_on_the_disk_as_it_was() {
    let rig = Rig::new(vec![Act::Send(40), Act::Lose, Act::Send(10)]);
    let (run, folder) = rig.record();
    assert_eq!(run.end, RunEnd::PortsGone);
    let (kinds, numbers) = verify(&run.folder);
    assert_eq!(kinds, ["first-row", "gap", "port-gone", "ended"]);
    let expected: Vec<u32> = (0..400).chain(410..510).collect();
    assert_eq!(numbers, expected);
    assert_eq!((run.counters[0].rows, run.counters[0].rows_lost), (500, 10));
    let description = open_run(&run.folder).unwrap().description;
    assert_eq!(description.run.state, RunState::Ended);
    assert_eq!(description.run.field.as_deref(), Some("=\"invented\" field\n"));
    assert_eq!(description.run.soil_class, Some(SoilClass::Medium));
    let clock = description.boxes[0].clock.clone().unwrap();
    assert_eq!(clock.run_time, RunTime::Host);
    // Both clocks are this computer's: what differs is how well two dozen pings tell.
    assert!((clock.box_s_per_host_s - 1.0).abs() < 200e-6, "{clock:?}");
    // Nothing but the run and the box's link is there.
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2);
    assert_eq!(std::fs::read_dir(&run.folder).unwrap().count(), 5);
}

/// Found: all noise before a hello was kept in memory and written down, 62 MB of it where it went on for a while.
#[test]
fn noise_of_megabytes_before_the_hello_is_counted_and_not_kept() {
    const NOISE: usize = 6_000_000;
    let rig = Rig::after_noise(NOISE, vec![Act::Send(20), Act::Lose, Act::Send(10)]);
    let (run, _folder) = rig.record();
    let (kinds, numbers) = verify(&run.folder);
    assert_eq!(kinds, ["not-kept", "first-row", "gap", "port-gone", "ended"]);
    assert_eq!(numbers.len(), 300);
    let wire_bytes = std::fs::metadata(run.folder.join("plow.wire")).unwrap().len();
    assert!(wire_bytes < 400_000, "{wire_bytes} bytes of wire");
    let counters = run.counters[0];
    assert!(counters.bytes_not_kept > NOISE as u64 - 300_000, "{counters:?}");
    assert!(counters.bytes + counters.bytes_not_kept > NOISE as u64, "{counters:?}");
}

#[test]
fn a_cable_that_is_put_back_goes_on_in_the_same_run() {
    let rig =
        Rig::new(vec![Act::Send(20), Act::Unplug(Duration::from_millis(400)), Act::Send(30), Act::Lose]);
    let (run, _folder) = rig.record();
    let (kinds, numbers) = verify(&run.folder);
    assert_eq!(kinds, ["first-row", "port-gone", "port-back", "gap", "port-gone", "ended"]);
    let counters = run.counters[0];
    assert_eq!(counters.reconnects, 1);
    assert_eq!(u64::from(numbers.last().unwrap() + 1), counters.rows + counters.rows_lost);
    // At most the half second to the next try after the cable is back.
    assert!(counters.rows >= 200 + 300 - 260, "{counters:?}");
}

#[test]
fn a_port_that_falls_silent_is_opened_anew() {
    let rig = Rig::new(vec![Act::Send(20), Act::Silent(Duration::from_millis(2500)), Act::Send(20)]);
    let (run, _folder) = rig.record();
    let (kinds, _) = verify(&run.folder);
    assert_eq!(kinds, ["first-row", "port-gone", "port-back", "gap", "port-gone", "ended"]);
    assert_eq!(run.counters[0].rows, 400);
}

#[test]
fn a_duration_ends_a_run_and_a_second_recorder_gets_none() {
    struct Second(RecordConfig, Option<RecordError>);
    impl View for Second {
        fn began(&mut self, _: &Path) {
            let config = self.0.clone();
            // On a thread of its own, for one runtime cannot start another.
            let second = std::thread::spawn(move || record(&config, &mut NoView).unwrap_err());
            self.1 = Some(second.join().unwrap());
        }
    }
    let rig = Rig::new(vec![Act::Send(80)]);
    let mut config = rig.config();
    config.duration = Some(Duration::from_millis(600));
    let mut other = config.clone();
    other.destination = Destination::Folder(rig.folder.path().join("other"));
    let mut view = Second(other, None);
    let run = record(&config, &mut view).unwrap();
    assert_eq!(run.end, RunEnd::Duration);
    verify(&run.folder);
    let ended = open_run(&run.folder).unwrap().description.run.ended;
    assert_eq!(ended.as_deref(), Some("the duration asked for was over"));
    assert_eq!(RunEnd::Signal("SIGTERM").to_string(), "stopped by SIGTERM");
    assert!((0.5..0.8).contains(&run.lasted_s), "{}", run.lasted_s);
    let error = view.1.unwrap().to_string();
    assert!(error.contains("is busy") && error.contains(&std::process::id().to_string()), "{error}");
    assert!(!rig.folder.path().join("other").exists());
}

/// What is said when this comes from the port again and again; nothing may be written.
fn refused(noise: &'static str) -> String {
    let folder = tempfile::tempdir().unwrap();
    let (mut master, name) = open_pty();
    let mut config = Rig { folder, acts: std::thread::spawn(|| ()) }.config();
    config.ports = vec![name];
    let told = std::thread::spawn(move || {
        for _ in 0..30 {
            let _ = master.write(noise.as_bytes());
            std::thread::sleep(Duration::from_millis(200));
        }
    });
    let error = record(&config, &mut NoView).unwrap_err();
    told.join().unwrap();
    if let Destination::Folder(folder) = &config.destination {
        assert!(!folder.exists());
    }
    error.to_string()
}

#[test]
fn what_stands_in_the_way_is_said_and_nothing_is_written() {
    let noises = ["", "\0\u{7f}garbage\0", "$GPGGA,123519,4807.038,N*27\r\n"];
    let said =
        noises.map(|noise| std::thread::spawn(move || refused(noise))).map(|said| said.join().unwrap());
    let wanted = ["nothing arrives", "check the baud rate (now 921600)", "GNSS"];
    for (said, wanted) in said.iter().zip(wanted) {
        assert!(said.contains(wanted), "{said}");
    }
}
