//! A box on a pseudo-terminal that does what a script says.

use firmware_protocol::{
    Channel, ChannelKind, Decoder, Event, Frame, Hello, Label, Readings, Status, Time, encode,
};
use std::fs::File;
use std::io::{Read, Write};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Rows of 2 ms, ten a frame: 50 frames a second.
pub const INTERVAL_US: u32 = 2000;
pub const FRAME_ROWS: u32 = 10;

/// What the box does.
#[derive(Clone, Copy, Debug)]
pub enum Act {
    /// Sends this many frames at their times.
    Send(u32),
    /// Samples a frame and does not send it.
    Lose,
    /// Pulls the cable for this long and comes back on another pseudo-terminal.
    Unplug(Duration),
    /// Keeps the port open and says nothing, sampling on.
    Silent(Duration),
}

pub fn open_pty() -> (File, PathBuf) {
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
pub struct ScriptedBox {
    /// Bytes of noise that its line brings before its hello.
    pub noise: usize,
    pub link: PathBuf,
    pub master: Option<File>,
    pub decoder: Decoder,
    pub power_up: Instant,
    pub started: bool,
    pub row: u32,
    pub next_us: u64,
}

impl ScriptedBox {
    pub fn new(link: &Path) -> Self {
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

    pub fn plug(&mut self) {
        let (master, name) = open_pty();
        let _ = std::fs::remove_file(&self.link);
        std::os::unix::fs::symlink(name, &self.link).unwrap();
        self.master = Some(master);
    }

    pub fn clock_us(&self) -> u64 {
        self.power_up.elapsed().as_micros() as u64
    }

    pub fn send(&mut self, frame: &Frame) {
        if let Some(master) = &mut self.master {
            // Nobody listening is not the box's concern.
            let _ = master.write(encode(frame).as_bytes());
        }
    }

    pub fn hello(&mut self) {
        let channel =
            |name, kind| Channel { name: Label::new(name).unwrap(), kind, adc_bits: 16, rate_mhz: 500_000 };
        let table = [channel("pull", ChannelKind::Pull), channel("depth", ChannelKind::Depth)];
        let (serial, name) = (Label::new("T1").unwrap(), Label::new("test box").unwrap());
        let hello = Hello::new(3, (1, 0, 0), 500_000, serial, name, &table).unwrap();
        self.send(&Frame::Hello(hello));
    }

    /// Answers what the host says until a time.
    pub fn serve_until(&mut self, until: Instant) {
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

    pub fn counts(row: u32) -> [i32; 2] {
        [1000 + (row * 7 % 30_000) as i32, 1 + (row % 2000) as i32]
    }

    pub fn frame(&mut self) -> Readings {
        let counts: Vec<i32> = (0..FRAME_ROWS).flat_map(|k| Self::counts(self.row + k)).collect();
        let readings = Readings::new(self.row, self.next_us as u32, INTERVAL_US, 2, &counts).unwrap();
        self.row += FRAME_ROWS;
        self.next_us += u64::from(INTERVAL_US * FRAME_ROWS);
        let due = self.power_up + Duration::from_micros(self.next_us);
        self.serve_until(due);
        readings
    }

    pub fn make_noise(&mut self) {
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

    pub fn run(mut self, acts: Vec<Act>) {
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
    pub fn skip(&mut self) {
        while self.next_us < self.clock_us() {
            self.row += FRAME_ROWS;
            self.next_us += u64::from(INTERVAL_US * FRAME_ROWS);
        }
    }
}
