//! A server fed by something that calls its view as a recorder's loop does, and a client of bare sockets.

use axum::Router;
use ingest::plow::{ChannelRole, Plow, read_plow};
use ingest::recorder::{BegunRun, Controls, LiveRows, PassChoice, Progress, View, Wish};
use seat::live::{Choice, Live, LiveView};
use seat::server::{Server, Tokens};
use std::collections::VecDeque;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// The server, with rows that come as those of a box do.
pub struct Rig {
    pub wishes: tokio::sync::mpsc::Receiver<Wish>,
    pub tokens: Tokens,
    pub feeder: Feeder,
    server: Server,
}

impl Rig {
    /// On this computer alone.
    pub fn new() -> Self {
        Self::at("127.0.0.1:0", &[PathBuf::from("/dev/ttyACM0")])
    }

    /// On any address, with boxes on these ports.
    pub fn at(address: &str, ports: &[PathBuf]) -> Self {
        let live = Arc::new(Live::new(plow(), ports, Choice::default()));
        let (controls, wishes) = Controls::new();
        let tokens = Tokens::random().unwrap();
        let address = address.parse().unwrap();
        let server =
            Server::start(address, Some(tokens.clone()), Arc::clone(&live), controls, Router::new()).unwrap();
        let feeder = Feeder::start(live);
        Self { wishes, tokens, feeder, server }
    }

    pub fn port(&self) -> u16 {
        self.server.address().port()
    }

    /// Where it is asked by this computer.
    pub fn here(&self) -> SocketAddr {
        SocketAddr::new([127, 0, 0, 1].into(), self.port())
    }

    /// Where others would ask it; `None` on a computer without a network.
    pub fn address_outside(&self) -> Option<SocketAddr> {
        let interfaces = if_addrs::get_if_addrs().unwrap();
        let ip =
            interfaces.iter().map(if_addrs::Interface::ip).find(|ip| ip.is_ipv4() && !ip.is_loopback())?;
        Some(SocketAddr::new(ip, self.port()))
    }

    pub fn get(&self, path: &str) -> Answer {
        get(self.here(), path, "")
    }

    pub fn post_wish(&self, body: &str) -> Answer {
        post_wish(self.here(), body, "")
    }

    /// A metric, by its line.
    pub fn metric(&self, name: &str) -> f64 {
        let text = self.get("/metrics").text();
        let line = text.lines().find_map(|line| line.strip_prefix(&format!("hitchwright_{name} ")));
        line.unwrap_or_else(|| panic!("no {name} in\n{text}")).parse().unwrap()
    }
}

pub fn plow() -> Plow {
    read_plow(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/plows/two-bottom.toml")).unwrap()
}

/// Rows a second.
pub const RATE: u64 = 200;

/// Calls the view 200 times a second, as the loop of a recorder does, and knows how long each call took and when each
/// row was told. The pull of a row is its number.
pub struct Feeder {
    pub told: Arc<Mutex<Vec<Instant>>>,
    calls: Arc<Mutex<Vec<Duration>>>,
    phase: Arc<Mutex<VecDeque<Told>>>,
    end: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

/// What else the loop tells.
pub enum Told {
    StandsBy,
    Began,
    Chosen(PassChoice),
    Notice(String),
    /// One row with the tail lifted.
    Lift,
}

impl Feeder {
    fn start(live: Arc<Live>) -> Self {
        let (told, calls) = (Arc::<Mutex<Vec<Instant>>>::default(), Arc::<Mutex<Vec<Duration>>>::default());
        let end = Arc::<AtomicBool>::default();
        let phase = Arc::<Mutex<VecDeque<Told>>>::default();
        let shared = (Arc::clone(&told), Arc::clone(&calls), Arc::clone(&end), Arc::clone(&phase));
        let thread = std::thread::spawn(move || {
            let (told, calls, end, phase) = shared;
            let mut view = LiveView::new(live);
            let begun = Instant::now();
            let columns = [ChannelRole::Pull, ChannelRole::Tail, ChannelRole::Depth];
            for number in 0_u64.. {
                let due = begun + Duration::from_micros(number * 1_000_000 / RATE);
                std::thread::sleep(due.saturating_duration_since(Instant::now()));
                if end.load(Ordering::Relaxed) {
                    return;
                }
                let mut row = ingest::assemble::Row::at(number * 1_000_000 / RATE);
                let other = phase.lock().unwrap().pop_front();
                let tail_mm = if matches!(other, Some(Told::Lift)) { 0.0 } else { 20.0 };
                for value in [number as f64, tail_mm, 180.0] {
                    row.push(value);
                }
                told.lock().unwrap().push(Instant::now());
                let before = Instant::now();
                view.readings(&LiveRows { number: 0, columns: &columns, rows: &[row] });
                if number % (RATE / 10) == 0 {
                    let progress =
                        Progress { t_s: number as f64 / RATE as f64, rows: number, ..Progress::default() };
                    view.progress(&progress);
                }
                match other {
                    Some(Told::StandsBy) => view.stands_by(),
                    Some(Told::Began) => view.began(&BegunRun {
                        folder: PathBuf::from("/runs/2027-03-01-pass"),
                        setting_name: plow().settings.keys().next().unwrap().clone(),
                        share: ingest::plow::ShareCondition::Sharp,
                        began_us: 0,
                    }),
                    Some(Told::Chosen(next)) => view.chosen(&next, true),
                    Some(Told::Notice(line)) => view.notice(&line),
                    Some(Told::Lift) | None => {}
                }
                calls.lock().unwrap().push(before.elapsed());
            }
        });
        Self { told, calls, phase, end, thread: Some(thread) }
    }

    pub fn tell(&self, told: Told) {
        self.phase.lock().unwrap().push_back(told);
        while !self.phase.lock().unwrap().is_empty() {
            std::thread::sleep(Duration::from_millis(2));
        }
        std::thread::sleep(Duration::from_millis(10));
    }

    /// How long the calls took since this was last asked, in order of length.
    pub fn take_calls(&self) -> Vec<Duration> {
        let mut calls = std::mem::take(&mut *self.calls.lock().unwrap());
        calls.sort();
        calls
    }
}

impl Drop for Feeder {
    fn drop(&mut self) {
        self.end.store(true, Ordering::Relaxed);
        let _ = self.thread.take().unwrap().join();
    }
}

/// The value below which this share lies.
pub fn quantile(sorted: &[Duration], share: f64) -> Duration {
    sorted[((sorted.len() - 1) as f64 * share).round() as usize]
}

/// An answer.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub head: String,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn text(&self) -> String {
        String::from_utf8(self.body.clone()).unwrap()
    }

    pub fn header(&self, name: &str) -> Option<&str> {
        let lines = self.head.lines().filter_map(|line| line.split_once(": "));
        lines.into_iter().find(|(key, _)| key.eq_ignore_ascii_case(name)).map(|(_, value)| value)
    }

    pub fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.body).unwrap()
    }
}

pub fn get(at: SocketAddr, path: &str, headers: &str) -> Answer {
    ask(at, format!("GET {path} HTTP/1.1\r\nhost: {at}\r\n{headers}\r\n").as_bytes())
}

pub fn post_wish(at: SocketAddr, body: &str, headers: &str) -> Answer {
    let length = body.len();
    let head = format!(
        "POST /wish HTTP/1.1\r\nhost: {at}\r\ncontent-type: application/json\r\ncontent-length: {length}\r\n{headers}\r\n"
    );
    ask(at, (head + body).as_bytes())
}

/// Asks, and reads to the end of the connection.
pub fn ask(at: SocketAddr, bytes: &[u8]) -> Answer {
    try_ask(at, bytes).expect("an answer")
}

/// The same; `None` if the connection ends without an answer.
pub fn try_ask(at: SocketAddr, bytes: &[u8]) -> Option<Answer> {
    let mut stream = TcpStream::connect_timeout(&at, Duration::from_secs(5)).ok()?;
    stream.set_read_timeout(Some(Duration::from_secs(10))).unwrap();
    stream.write_all(bytes).ok()?;
    let mut all = Vec::new();
    // An end that comes as an error comes after what was answered.
    let _ = stream.read_to_end(&mut all);
    let end = all.windows(4).position(|four| four == b"\r\n\r\n")?;
    let head = String::from_utf8(all[..end].to_vec()).unwrap();
    let status = head.split(' ').nth(1)?.parse().unwrap();
    Some(Answer { status, head, body: all[end + 4..].to_vec() })
}

/// Somebody who looks on.
pub struct Viewer {
    lines: BufReader<TcpStream>,
}

/// An event as it came.
#[derive(Debug)]
pub struct Event {
    pub name: String,
    pub data: serde_json::Value,
    pub at: Instant,
}

impl Viewer {
    pub fn new(at: SocketAddr) -> Self {
        let mut stream = TcpStream::connect(at).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(3))).unwrap();
        stream.write_all(format!("GET /live HTTP/1.1\r\nhost: {at}\r\n\r\n").as_bytes()).unwrap();
        let mut lines = BufReader::new(stream);
        let mut line = String::new();
        lines.read_line(&mut line).unwrap();
        assert!(line.contains("200"), "{line}");
        Self { lines }
    }

    /// The next event; `None` at the end of the connection.
    pub fn next(&mut self) -> Option<Event> {
        let mut name = None;
        loop {
            let mut line = String::new();
            if self.lines.read_line(&mut line).ok()? == 0 {
                return None;
            }
            let line = line.trim_end();
            if let Some(event) = line.strip_prefix("event: ") {
                name = Some(event.to_owned());
            } else if let (Some(data), Some(name)) = (line.strip_prefix("data: "), &name) {
                let data = serde_json::from_str(data).unwrap();
                return Some(Event { name: name.clone(), data, at: Instant::now() });
            }
        }
    }

    pub fn next_named(&mut self, name: &str) -> Event {
        loop {
            let event = self.next().expect("one more event");
            if event.name == name {
                return event;
            }
        }
    }
}

/// Lets this process have that many open files, or as many as it may.
pub fn allow_files(wanted: u64) -> u64 {
    use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
    let Rlimit { current, maximum } = getrlimit(Resource::Nofile);
    let most = maximum.unwrap_or(wanted).min(wanted);
    if current.is_some_and(|current| current < most) {
        setrlimit(Resource::Nofile, Rlimit { current: Some(most), maximum }).unwrap();
    }
    getrlimit(Resource::Nofile).current.unwrap_or(wanted)
}
