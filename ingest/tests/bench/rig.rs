//! The bench: a recorder's host whose ports are lines to devices, and a person who does things at times.

use crate::device::Device;
use ingest::plow::{Plow, read_plow_text};
use ingest::port::{OpenPort, PortError, PortLock, Ports};
use ingest::recorder::{
    Begin, BegunRun, Beside, Computer, Controls, Destination, Disk, Host, Order, PassChoice, Progress,
    RecordConfig, RecordError, Recorded, RecordedRun, View, Wish, record_on,
};
use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use tokio::time::{Instant, sleep_until};

/// The plow of these tests, whose sensors are on the channels "pull" and "depth".
pub fn plow() -> Plow {
    plow_of(include_str!("../recording/plow.toml"))
}

pub fn plow_of(text: &str) -> Plow {
    read_plow_text(text, Path::new("plow.toml")).unwrap()
}

/// One more sensor in a plow description, which reads mm or degrees.
pub fn with_sensor(channel: &str, measures: &str, unit: &str) -> Plow {
    let plow = include_str!("../recording/plow.toml");
    plow_of(&format!(
        "{plow}\n[[sensors]]\nchannel = \"{channel}\"\nmeasures = \"{measures}\"\n\
         calibration = {{ date = \"2027-03-01\", points = [[0, \"0 {unit}\"], [3000, \"30 {unit}\"]] }}\n"
    ))
}

#[derive(Debug)]
struct Line {
    device: Device,
    is_in: watch::Sender<bool>,
}

/// Why a port cannot be opened, whatever hangs at it.
pub type Closed = fn(&Path) -> PortError;

pub struct Bench {
    pub folder: tempfile::TempDir,
    began: Mutex<Option<Instant>>,
    lines: Mutex<BTreeMap<PathBuf, Line>>,
    closed: BTreeMap<PathBuf, Closed>,
    /// From when to when the disk answers nothing, in s.
    disk_stalls_s: Option<(f64, f64)>,
    controls: Controls,
    wishes: Mutex<Option<mpsc::Receiver<Wish>>>,
}

impl Ports for Bench {
    fn claim(&self, _: &Path) -> Result<Option<PortLock>, PortError> {
        Ok(None)
    }

    fn others(&self) -> String {
        "no other".to_owned()
    }

    fn open(&self, port: &Path, _: u32) -> Result<OpenPort, PortError> {
        if let Some(why) = self.closed.get(port) {
            return Err(why(port));
        }
        let lines = self.lines.lock().unwrap();
        let missing = || PortError::Missing { port: port.to_owned(), others: "no other".to_owned() };
        let line = lines.get(port).filter(|line| *line.is_in.borrow()).ok_or_else(missing)?;
        let (near, far) = tokio::io::duplex(64 * 1024);
        let (device, mut is_in, began) = (line.device.clone(), line.is_in.subscribe(), self.began());
        tokio::spawn(async move {
            tokio::select! {
                () = device.talk(began, far) => {}
                _ = is_in.wait_for(|is_in| !is_in) => {}
            }
        });
        Ok(OpenPort::unlocked(Box::new(near)))
    }
}

impl Host for Bench {
    fn wall_clock(&self) -> jiff::Timestamp {
        let us = 1_800_000_000_000_000 + self.began().elapsed().as_micros() as i64;
        jiff::Timestamp::from_microsecond(us).unwrap()
    }

    fn wishes(&self) -> io::Result<mpsc::Receiver<Wish>> {
        self.wishes.lock().unwrap().take().ok_or_else(|| io::Error::other("asked twice"))
    }

    fn make_folder(
        &self,
        destination: &Destination,
        name: &str,
        bytes: f64,
    ) -> Result<Box<dyn Disk>, RecordError> {
        Computer::without_keyboard().make_folder(destination, name, bytes)
    }

    fn do_beside(&self, mut work: Beside) -> io::Result<()> {
        let (began, stalls_s) = (self.began(), self.disk_stalls_s);
        tokio::spawn(async move {
            if let Some((from, to)) = stalls_s.map(|(from_s, to_s)| (at(began, from_s), at(began, to_s))) {
                tokio::select! {
                    biased;
                    () = &mut work => return,
                    () = sleep_until(from) => sleep_until(to).await,
                }
            }
            work.await;
        });
        Ok(())
    }
}

impl Bench {
    /// Devices on ports of these names.
    pub fn new<const N: usize>(devices: [(&str, Device); N]) -> Self {
        let (controls, wishes) = Controls::new();
        let line = |(port, device)| (PathBuf::from(port), Line { device, is_in: watch::Sender::new(true) });
        Self {
            folder: tempfile::tempdir().unwrap(),
            began: Mutex::default(),
            lines: Mutex::new(devices.map(line).into()),
            closed: BTreeMap::new(),
            disk_stalls_s: None,
            controls,
            wishes: Mutex::new(Some(wishes)),
        }
    }

    /// Puts the line of this port into this device.
    pub fn plug_in(&self, port: &str, device: Device) {
        let line = Line { device, is_in: watch::Sender::new(true) };
        self.lines.lock().unwrap().insert(port.into(), line);
    }

    /// This port cannot be opened, ever.
    pub fn closed(mut self, port: &str, why: Closed) -> Self {
        self.closed.insert(port.into(), why);
        self
    }

    /// From when to when the disk answers nothing, in s.
    pub fn disk_stalls(mut self, from_s: f64, to_s: f64) -> Self {
        self.disk_stalls_s = Some((from_s, to_s));
        self
    }

    fn began(&self) -> Instant {
        self.began.lock().unwrap().unwrap()
    }

    /// One run of the box on `plow` at once.
    pub fn config(&self) -> RecordConfig {
        RecordConfig {
            ports: vec!["plow".into()],
            baud: 115_200,
            gnss: None,
            plow: plow(),
            begin: Begin::AtOnce,
            setting_name: Some("low".to_owned()),
            setting_assumed: false,
            share: None,
            field: None,
            soil: None,
            soil_class: None,
            note: None,
            destination: Destination::In(self.folder.path().join("runs")),
            duration: None,
            stop_when_gone: None,
            passes_before: 0,
            software: "test".to_owned(),
        }
    }

    /// Records, while a person does this.
    pub fn record<S: Future<Output = ()> + Send + 'static>(
        self,
        config: &RecordConfig,
        does: impl FnOnce(Person) -> S,
    ) -> Left {
        let mut runtime = tokio::runtime::Builder::new_current_thread();
        let runtime = runtime.enable_time().start_paused(true).build().unwrap();
        let bench = Arc::new(self);
        let host = Arc::<Self>::clone(&bench);
        let (recorded, seen) = runtime.block_on(async {
            let began = Instant::now();
            *bench.began.lock().unwrap() = Some(began);
            let mut seen = Seen { began, told: Vec::new(), progress: Vec::new() };
            tokio::spawn(does(Person(Arc::clone(&bench))));
            let recorded = tokio::select! {
                biased;
                recorded = record_on(host, config, &mut seen) => recorded,
                () = tokio::time::sleep(Duration::from_secs(3600)) => panic!("it does not end: {:#?}", seen.told),
            };
            (recorded, seen)
        });
        drop(runtime);
        let bench = Arc::into_inner(bench).unwrap();
        Left { recorded, told: seen.told, progress: seen.progress, folder: bench.folder }
    }

    /// Why it is not recorded, and that nothing is written.
    pub fn refused(self, config: &RecordConfig) -> String {
        let Left { recorded, folder, .. } = self.record(config, |_| async {});
        assert_eq!(std::fs::read_dir(folder.path().join("runs")).map_or(0, Iterator::count), 0);
        recorded.unwrap_err().to_string()
    }
}

fn at(began: Instant, s: f64) -> Instant {
    began + Duration::from_secs_f64(s)
}

/// A person at the recorder.
pub struct Person(Arc<Bench>);

impl Person {
    /// Waits until so many s after the beginning.
    pub async fn at(&self, s: f64) {
        sleep_until(at(self.0.began(), s)).await;
    }

    /// Where the runs go.
    pub fn runs(&self) -> PathBuf {
        self.0.folder.path().join("runs")
    }

    pub async fn wishes_at(&self, s: f64, wish: Wish) {
        self.at(s).await;
        self.0.controls.wish(wish).unwrap();
    }

    pub fn pull(&self, port: &str) {
        self.0.lines.lock().unwrap().get(Path::new(port)).unwrap().is_in.send_replace(false);
    }

    pub fn plug(&self, port: &str, device: Device) {
        self.0.plug_in(port, device);
    }
}

/// A run with this setting.
pub fn start(setting: &str) -> Wish {
    Wish::Start(choice_of(setting))
}

pub fn choice_of(setting: &str) -> PassChoice {
    PassChoice { setting_name: Some(setting.to_owned()), ..PassChoice::default() }
}

struct Seen {
    began: Instant,
    told: Vec<(f64, String)>,
    progress: Vec<(f64, Progress)>,
}

impl Seen {
    fn told(&mut self, what: String) {
        self.told.push((self.began.elapsed().as_secs_f64(), what));
    }
}

impl View for Seen {
    fn stands_by(&mut self) {
        self.told("stands by".to_owned());
    }
    fn chosen(&mut self, next: &PassChoice, by_person: bool) {
        let PassChoice { setting_name, share, field, note, .. } = next;
        let of = |text: &Option<String>| text.clone().unwrap_or_else(|| "-".to_owned());
        let share = share.map_or_else(|| "-".to_owned(), |share| share.to_string());
        let who = if by_person { "person" } else { "run" };
        let (setting, field, note) = (of(setting_name), of(field), of(note));
        self.told(format!("chosen by {who}: {setting} {share} {field} {note}"));
    }
    fn began(&mut self, run: &BegunRun) {
        self.told(format!("began {} {}", run.setting_name, run.share));
    }
    fn progress(&mut self, progress: &Progress) {
        self.progress.push((self.began.elapsed().as_secs_f64(), progress.clone()));
    }
    fn notice(&mut self, line: &str) {
        self.told(line.to_owned());
    }
    fn not_done(&mut self, order: Order, why: &str) {
        self.told(format!("not done {order:?}: {why}"));
    }
    fn ended(&mut self, run: &Result<RecordedRun, RecordError>) {
        self.told(match run {
            Ok(run) => format!("ended: {}", run.end),
            Err(error) => format!("failed: {error}"),
        });
    }
}

/// What is left of it all.
pub struct Left {
    pub recorded: Result<Recorded, RecordError>,
    /// What was told, and when, in s.
    pub told: Vec<(f64, String)>,
    pub progress: Vec<(f64, Progress)>,
    pub folder: tempfile::TempDir,
}

impl Left {
    pub fn lines(&self) -> Vec<&str> {
        self.told.iter().map(|(_, line)| line.as_str()).collect()
    }

    /// When this line was told, in s; it is told once.
    pub fn once_s(&self, line: &str) -> f64 {
        let mut found = self.told.iter().filter(|(_, told)| told == line);
        match (found.next(), found.next()) {
            (Some((at_s, _)), None) => *at_s,
            (None, _) => panic!("not told: {line}\n{:#?}", self.told),
            (Some(_), Some(_)) => panic!("told twice: {line}\n{:#?}", self.told),
        }
    }

    /// What was shown last before so many s.
    pub fn shown_at(&self, s: f64) -> &Progress {
        &self.progress.iter().rev().find(|(at_s, _)| *at_s <= s).unwrap().1
    }

    /// The folders of the runs, in the order of their names.
    pub fn runs(&self) -> Vec<PathBuf> {
        let runs = std::fs::read_dir(self.folder.path().join("runs")).unwrap();
        let mut runs: Vec<_> = runs.map(|run| run.unwrap().path()).collect();
        runs.sort();
        runs
    }
}
