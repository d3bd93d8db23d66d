//! A recorder that stands by in a simulated world: a person starts and stops runs at random moments, and each run is
//! held against what the boxes know.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use held::run_folder::{events_of, table_of};
use held::truth::{Fate, Truth};
use held::verify::{hold, is_of_box};
use ingest::port::{OpenPort, PortError, PortLock, Ports};
use ingest::rebuild::rebuild_from;
use ingest::recorder::{
    Begin, BegunRun, Beside, Destination, Disk, Host, PassChoice, RecordConfig, RecordError, Recorded,
    RecordedRun, View, Wish, record_on,
};
use ingest::run_toml::read_run_toml_text;
use ingest::wire_file::{WireEvent, WireReader};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tokio::sync::mpsc;
use tokio::time::{Duration, Instant, sleep, sleep_until};

use crate::disk::SimDisk;
use crate::plan::Plan;
use crate::sensor_box::{SENSORS, SharedKnown};
use crate::world::{Socket, WALL_CLOCK_US, open_socket, plow_of, plug_in};

/// A run begins so long before it was asked for, in s, unless something stood in its way.
const BEFORE_S: f64 = 5.0;
/// How far a row may seem to be from before the run, in s, besides what its time may be off.
const START_SLACK_S: f64 = 0.006;

/// How far a row's time may be from the box's by pings, in s, besides the jitter of the line: 2 ms more than of a run that
/// begins with the recorder, as the seconds before this one hold a ping a second and no burst of them.
const TIME_ERROR_MAX_S: f64 = 0.005;

struct Seat {
    began: Instant,
    sockets: BTreeMap<PathBuf, Socket>,
    wishes: Mutex<Option<mpsc::Receiver<Wish>>>,
    /// One a run.
    disks: Mutex<Vec<SimDisk>>,
}

impl Ports for Seat {
    fn claim(&self, _: &Path) -> Result<Option<PortLock>, PortError> {
        Ok(None)
    }
    fn open(&self, port: &Path, _: u32) -> Result<OpenPort, PortError> {
        open_socket(&self.sockets, port)
    }
}

impl Host for Seat {
    fn wall_clock(&self) -> jiff::Timestamp {
        jiff::Timestamp::from_microsecond(WALL_CLOCK_US + self.began.elapsed().as_micros() as i64).unwrap()
    }
    fn wishes(&self) -> io::Result<mpsc::Receiver<Wish>> {
        self.wishes.lock().unwrap().take().ok_or_else(|| io::Error::other("asked twice"))
    }
    fn make_folder(&self, _: &Destination, name: &str, _: f64) -> Result<Box<dyn Disk>, RecordError> {
        let mut disks = self.disks.lock().unwrap();
        let disk = SimDisk::new(format!("{name}_{}", disks.len()).into(), Vec::new(), Vec::new());
        disks.push(disk.clone());
        Ok(Box::new(disk))
    }
    fn do_beside(&self, work: Beside) -> io::Result<()> {
        tokio::spawn(work);
        Ok(())
    }
}

/// What is told, and when, in s.
#[derive(Default)]
struct Seen {
    began: Option<Instant>,
    stands_by_s: Vec<f64>,
    live_us: BTreeMap<usize, u64>,
    rises: bool,
    notices: Vec<(f64, String)>,
    ended: Vec<Result<f64, String>>,
}

impl Seen {
    fn now_s(&self) -> f64 {
        self.began.map_or(0.0, |began| began.elapsed().as_secs_f64())
    }
}

impl View for Seen {
    fn stands_by(&mut self) {
        self.stands_by_s.push(self.now_s());
    }
    fn began(&mut self, run: &BegunRun) {
        let line = format!("began with {:.3} s before it", run.began_us as f64 / 1e6);
        self.notice(&line);
    }
    fn readings(&mut self, live: &ingest::recorder::LiveRows<'_>) {
        for row in live.rows {
            let before = self.live_us.insert(live.number, row.t_us);
            self.rises &= before.is_none_or(|before| before < row.t_us);
        }
    }
    fn notice(&mut self, line: &str) {
        self.notices.push((self.now_s(), line.to_owned()));
    }
    fn ended(&mut self, run: &Result<RecordedRun, RecordError>) {
        self.ended.push(run.as_ref().map(|run| run.lasted_s).map_err(ToString::to_string));
    }
}

/// When runs are asked for and stopped, in s, drawn from the seed of a plan.
fn wishes_of(plan: &Plan) -> Vec<(f64, f64)> {
    let mut rng = ChaCha8Rng::seed_from_u64(plan.seed ^ 0x57A9);
    let mut runs = Vec::new();
    let mut at_s = rng.random_range(7.0..20.0);
    while at_s + 4.0 < plan.lasts_s {
        let stop_s = at_s + rng.random_range(1.0..40.0);
        runs.push((at_s, stop_s.min(plan.lasts_s - 1.0)));
        at_s = stop_s + rng.random_range(0.5..30.0);
    }
    runs
}

struct Left {
    recorded: Result<Recorded, RecordError>,
    disks: Vec<SimDisk>,
    known: Vec<SharedKnown>,
    channels: Vec<Vec<usize>>,
    seen: Seen,
}

impl Left {
    /// Writes the files of each run into a folder, and the rows of each box beside them.
    fn keep(&self, folder: &Path) -> io::Result<()> {
        for (number, disk) in self.disks.iter().enumerate() {
            let run = folder.join(format!("run{number}"));
            std::fs::create_dir_all(&run)?;
            for (name, content) in disk.contents() {
                if name.ends_with("wire") {
                    let lines: Vec<_> = WireReader::new(&content).map(|record| dump(&record)).collect();
                    std::fs::write(run.join(format!("{name}.txt")), lines.concat())?;
                }
                std::fs::write(run.join(name), content)?;
            }
        }
        for (number, known) in self.known.iter().enumerate() {
            let line = |row: &held::truth::TrueRow| {
                let held::truth::TrueRow { boot, number, fate, t_s, host_s, counts } = row;
                format!("{boot},{number},{fate:?},{t_s:.6},{host_s:.6},{counts:?}\n")
            };
            let lines: String = known.lock().unwrap().rows.iter().map(line).collect();
            std::fs::write(folder.join(format!("truth{number}.csv")), lines)?;
        }
        Ok(())
    }
}

fn dump(record: &ingest::wire_file::Record) -> String {
    let mut text = format!("{:.6} ", record.host_us as f64 / 1e6);
    match &record.what {
        WireEvent::Received(bytes) | WireEvent::Known(bytes) => {
            text += if matches!(record.what, WireEvent::Known(_)) { "known " } else { "" };
            if bytes.first() == Some(&b'$') {
                text += &String::from_utf8_lossy(bytes);
            } else {
                let mut decoder = firmware_protocol::PortDecoder::new();
                let mut rest = &bytes[..];
                while let Some(event) = decoder.next_event(&mut rest) {
                    match event {
                        firmware_protocol::Event::Frame(firmware_protocol::Frame::Readings(r)) => {
                            text += &format!("rows {}+{} clock {}; ", r.first_row, r.row_count(), r.clock_us);
                        }
                        other => text += &format!("{other:?}; ").chars().take(160).collect::<String>(),
                    }
                }
                text += &format!("({} bytes)", bytes.len());
            }
        }
        other => text += &format!("{other:?}"),
    }
    text + "\n"
}

fn let_go_by(plan: &Plan, runs: Vec<(f64, f64)>) -> Left {
    let runtime =
        tokio::runtime::Builder::new_current_thread().enable_time().start_paused(true).build().unwrap();
    runtime.block_on(async {
        let began = Instant::now();
        let (sockets, known, channels) = plug_in(plan);
        let (wish, wishes) = mpsc::channel(8);
        let config = RecordConfig {
            ports: sockets.keys().cloned().collect(),
            baud: 115_200,
            gnss: None,
            plow: plow_of(&channels),
            begin: Begin::OnStart,
            setting_name: None,
            share: None,
            field: None,
            soil: None,
            soil_class: None,
            note: None,
            destination: Destination::In(PathBuf::from(".")),
            duration: None,
            stop_when_gone: None,
            software: "simulation".to_owned(),
        };
        let seat =
            Arc::new(Seat { began, sockets, wishes: Mutex::new(Some(wishes)), disks: Mutex::default() });
        let ends_s = plan.lasts_s;
        tokio::spawn(async move {
            let at = |s: f64| sleep_until(began + Duration::from_secs_f64(s));
            for (start_s, stop_s) in runs {
                at(start_s).await;
                let choice = PassChoice { setting_name: Some("as-found".to_owned()), ..PassChoice::default() };
                let _ = wish.send(Wish::Start(choice)).await;
                at(0.5 * (start_s + stop_s)).await;
                let _ = wish.send(Wish::Mark).await;
                at(stop_s).await;
                let _ = wish.send(Wish::Stop("the person")).await;
            }
            at(ends_s).await;
            let _ = wish.send(Wish::End("a signal")).await;
            std::future::pending::<()>().await;
        });
        let mut seen = Seen { began: Some(began), rises: true, ..Seen::default() };
        let host = Arc::<Seat>::clone(&seat);
        let recorded = tokio::select! {
            biased;
            recorded = record_on(host, &config, &mut seen) => recorded,
            () = sleep(Duration::from_secs_f64(ends_s + 300.0)) => panic!("seed {}: it does not end", plan.seed),
        };
        let disks = seat.disks.lock().unwrap().clone();
        Left { recorded, disks, known, channels, seen }
    })
}

/// Holds one run against what the boxes know; gives its time 0 and its end in s, and the rows in it.
fn judge_run(plan: &Plan, left: &Left, disk: &SimDisk, earliest_s: f64) -> Result<(f64, f64, usize), String> {
    let files = disk.contents();
    let text = |name: &str| {
        let bytes = files.get(name).ok_or(format!("no {name}"))?;
        String::from_utf8(bytes.clone()).map_err(|error| error.to_string())
    };
    let description =
        read_run_toml_text(&text("run.toml")?, "run.toml".as_ref()).map_err(|error| error.to_string())?;
    let wires: Vec<_> = description
        .wire_files()
        .into_iter()
        .map(|name| (PathBuf::from(&name), files.get(&name).cloned().unwrap_or_default()))
        .collect();
    let rebuilt = rebuild_from(&description, None, &wires).map_err(|error| error.to_string())?;
    for file in &rebuilt.files {
        if files.get(&file.name) != Some(&file.bytes) {
            return Err(format!("{} is not what its raw bytes give", file.name));
        }
    }
    let records: Vec<_> =
        wires.first().map(|(_, bytes)| WireReader::new(bytes).collect()).unwrap_or_default();
    let time_of = |is_it: fn(&WireEvent) -> bool| {
        let found = records.iter().find(|record: &&ingest::wire_file::Record| is_it(&record.what));
        found.map(|record| record.host_us as f64 / 1e6)
    };
    let began_s = time_of(|what| *what == WireEvent::Started).ok_or("it never began")?;
    let ended_s = time_of(|what| matches!(what, WireEvent::Ended(_))).ok_or("it never ended")?;
    if began_s < earliest_s {
        return Err(format!("it begins at {began_s}, in the run before, which ends at {earliest_s}"));
    }
    let wall_s = jiff::Timestamp::from_microsecond(WALL_CLOCK_US + (began_s * 1e6) as i64).unwrap();
    let started = wall_s.to_zoned_datetime(jiff::tz::TimeZone::system());
    if description.run.started != started.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string() {
        return Err(format!("it says that it started {}, its time 0 is {started}", description.run.started));
    }
    let events = events_of(&text("events.csv")?)?;
    let marks = events.iter().filter(|event| event.kind == "mark" && event.detail.contains("host")).count();
    if marks > 1 {
        return Err(format!("{marks} marks of the person"));
    }
    if let Some(event) = events.iter().find(|event| event.kind == "not-kept" || event.kind == "box-dropped") {
        return Err(format!("nothing of the kind: {event:?}"));
    }
    let mut written = 0;
    for (number, (info, known)) in description.boxes.iter().zip(&left.known).enumerate() {
        let of_box = |what: String| format!("{}.csv: {what}", info.file);
        let table = table_of(&text(&format!("{}.csv", info.file))?).map_err(of_box)?;
        let channels =
            left.channels[number].iter().map(|at| SENSORS[*at].channel.replace('-', "_")).collect();
        let mut truth = Truth { channels, rows: known.lock().unwrap().rows.clone() };
        // What was sampled well before the run is none of it.
        truth.rows.retain(|row| row.t_s > began_s - 1.0);
        let own = &plan.boxes[number];
        let error_s = if own.answers { TIME_ERROR_MAX_S } else { 0.021 } + 1e-3 * own.jitter_ms;
        truth.rows.iter_mut().take_while(|row| row.t_s < began_s + error_s + START_SLACK_S).for_each(|row| {
            row.fate = Fate::Lost;
        });
        let mut its_events = events.clone();
        its_events.retain(|event| is_of_box(event, &info.file));
        let verified = hold(&table, &its_events, &truth, error_s).map_err(of_box)?;
        // What was sampled well before the end and sent has to be there.
        let after =
            truth.rows.iter().rev().filter(|row| row.fate == Fate::Sent).take(verified.sent_after_last);
        let frame_s = (1 + own.rows_per_frame) as f64 * 1e3 / f64::from(own.rate_mhz);
        let due_s = ended_s - frame_s - 0.05 - 1e-3 * own.jitter_ms;
        if let Some(row) = after.into_iter().find(|row| row.t_s < due_s) {
            return Err(of_box(format!(
                "a row of {:.3} s is missing before the end at {ended_s:.3} s",
                row.t_s
            )));
        }
        written += verified.rows_written;
    }
    Ok((began_s, ended_s, written))
}

fn judge(plan: &Plan) -> Result<(usize, usize), String> {
    let runs = wishes_of(plan);
    let left = let_go_by(plan, runs.clone());
    if !left.seen.rises {
        return Err("live times do not rise".to_owned());
    }
    let faultless = plan.boxes.iter().all(|one| one.faults.is_empty());
    let (mut rows, mut earliest_s) = (0, 0.0);
    let mut asked = runs.iter();
    for (number, disk) in left.disks.iter().enumerate() {
        let of_run = |what: String| format!("run {number}: {what}");
        let (began_s, ended_s, written) = judge_run(plan, &left, disk, earliest_s).map_err(of_run)?;
        // One that was not asked for in time, as the boxes were not there yet, is told and not begun.
        let (start_s, _) = *asked.find(|(_, stop_s)| *stop_s > began_s).ok_or("more runs than wishes")?;
        let before_s = start_s - began_s;
        if !(-0.3..BEFORE_S + 0.2).contains(&before_s) {
            return Err(of_run(format!("begins {before_s} s before it was asked for")));
        }
        let live_s = left.seen.stands_by_s.first().copied().unwrap_or(0.0);
        if faultless && began_s > live_s.max(earliest_s).max(start_s - BEFORE_S) + 0.2 {
            return Err(of_run(format!("begins at {began_s} s, asked for at {start_s} s")));
        }
        (rows, earliest_s) = (rows + written, ended_s);
    }
    match &left.recorded {
        Ok(recorded) if recorded.runs as usize == left.disks.len() => {}
        // A run in which a box sent no row at all is one that failed, and told.
        Err(RecordError::RunsFailed { failed, .. })
            if left.seen.ended.iter().filter(|ended| ended.is_err()).count() as u64 == *failed => {}
        other => return Err(format!("{} runs, but {other:?}", left.disks.len())),
    }
    if faultless && left.disks.len() != runs.len() {
        return Err(format!(
            "{} runs were asked for, {} are there: {:?}",
            runs.len(),
            left.disks.len(),
            left.seen.notices
        ));
    }
    Ok((left.disks.len(), rows))
}

/// The plan of a seed without what this judge does not look at: disks, clocks and sleeps are the other worlds'.
fn plan_of(seed: u64) -> Plan {
    let mut plan = Plan::of_seed(seed);
    (plan.disk, plan.folder_gone_s, plan.clock_steps, plan.sleeps) = Default::default();
    plan.lasts_s = plan.lasts_s.clamp(60.0, 200.0);
    // Every other world has boxes with which nothing is wrong.
    if seed.is_multiple_of(2) {
        plan.boxes.iter_mut().for_each(|one| one.faults.clear());
    }
    plan
}

#[test]
fn runs_that_a_person_starts_and_stops_hold_the_five_seconds_before() {
    let (mut runs, mut rows, mut failed) = (0, 0, Vec::new());
    for seed in 0..8 {
        match judge(&plan_of(seed)) {
            Ok((more_runs, more_rows)) => (runs, rows) = (runs + more_runs, rows + more_rows),
            Err(why) => failed.push(format!("SEED={seed}: {why}")),
        }
    }
    println!("{runs} runs, {rows} rows");
    assert_eq!(failed, Vec::<String>::new());
    assert!(runs > 20 && rows > 20_000, "{runs} runs, {rows} rows");
}

#[test]
fn one_seed_of_standing_by() {
    let Some(seed) = crate::from_environment("SEED") else { return };
    let plan = plan_of(seed);
    let runs = wishes_of(&plan);
    println!("{plan:#?}\nasked for {runs:?}");
    let left = let_go_by(&plan, runs);
    left.seen.notices.iter().for_each(|(at_s, line)| println!("{at_s:9.3} {line}"));
    println!("{:?}", left.recorded);
    if let Some(folder) = std::env::var_os("KEEP") {
        left.keep(folder.as_ref()).unwrap();
    }
    if let Err(why) = judge(&plan) {
        panic!("SEED={seed}: {why}");
    }
}

#[test]
#[ignore = "as long as SECONDS_OF_SEEDS says"]
fn fresh_seeds_of_standing_by() {
    let lasts = std::time::Duration::from_secs(crate::from_environment("SECONDS_OF_SEEDS").unwrap_or(60));
    let first = crate::from_environment("FIRST").unwrap_or(50_000);
    let began = std::time::Instant::now();
    let (mut worlds, mut runs, mut rows, mut failed) = (0, 0, 0, Vec::new());
    while began.elapsed() < lasts {
        match judge(&plan_of(first + worlds)) {
            Ok((more_runs, more_rows)) => (runs, rows) = (runs + more_runs, rows + more_rows),
            Err(why) => failed.push(format!("SEED={}: {why}", first + worlds)),
        }
        worlds += 1;
    }
    println!("{worlds} worlds, {runs} runs, {rows} rows, {} not as they should be", failed.len());
    failed.iter().for_each(|why| println!("  {why}"));
    assert!(worlds > 10 && 10 * failed.len() as u64 <= worlds);
}
