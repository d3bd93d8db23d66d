//! The program itself on a virtual box at full rate, with somebody who looks on and many who mean it ill.

use crate::rig::{Viewer, allow_files, quantile, try_ask};
use ingest::open_run::open_run;
use ingest::run_toml::RunState;
use rustix::net::sockopt::set_socket_recv_buffer_size;
use rustix::process::{Pid, Signal, kill_process};
use sample_runs::plow::Case;
use sample_runs::sensors::Sensor;
use sample_runs::virtual_box::{BoxConfig, VirtualBox};
use std::fmt::Write as _;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Rows a second: the full rate of a box of three channels.
const RATE_HZ: u32 = 1000;
/// How long all of it goes on, unless `SECONDS` says otherwise.
const SECONDS: u64 = 8;
/// How late a reading may be, once in a hundred, on a computer that does all of this and more at once.
const IN_TIME: Duration = Duration::from_secs(1);

/// A plow with the sensors of the virtual box.
pub fn plow_toml() -> String {
    let mut text = include_str!("../../../../tests/support/plow.toml").to_owned();
    for Sensor { channel, column, zero_count, counts_per_unit, count_limits: (low, high), .. } in
        Sensor::BASIC
    {
        let unit = if column.ends_with("_n") { "N" } else { "mm" };
        let at_ten = zero_count + 10.0 * counts_per_unit;
        write!(
            text,
            "\n[[sensors]]\nchannel = \"{channel}\"\nmeasures = \"{channel}\"\ncount_limits = [{low}, {high}]\n\
             calibration = {{ date = \"2027-03-01\", points = [[{zero_count:?}, \"0 {unit}\"], [{at_ten:?}, \"10 {unit}\"]] }}\n"
        )
        .unwrap();
    }
    text
}

/// The program at work; ended when it goes out of scope.
pub struct Recorder(Child);

impl Recorder {
    /// Starts it with these words; gives where its page is.
    pub fn start(folder: &Path, words: &[&str]) -> (Self, SocketAddr) {
        let mut child = Command::new(env!("CARGO_BIN_EXE_hitchwright-recorder"))
            .current_dir(folder)
            .args(["--baud", "921600", "--live", "127.0.0.1:0"])
            .args(words)
            .arg("--port")
            .arg(folder.join("port"))
            .arg("--plow")
            .arg(folder.join("plow.toml"))
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut lines = BufReader::new(child.stderr.take().unwrap()).lines();
        let link = lines
            .by_ref()
            .map(Result::unwrap)
            .find_map(|line| Some(line.split_once("http://")?.1.trim_end_matches('/').to_owned()));
        std::thread::spawn(move || lines.for_each(drop));
        (Self(child), link.expect("a link").parse().unwrap())
    }

    /// Memory in kB, and time on a core in s, so far.
    fn costs(&self) -> (u64, f64) {
        let proc = |file: &str| std::fs::read_to_string(format!("/proc/{}/{file}", self.0.id())).unwrap();
        let status = proc("status");
        let resident = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap().trim();
        let ticks: f64 =
            proc("stat").split(' ').skip(13).take(2).map(|ticks| ticks.parse::<f64>().unwrap()).sum();
        (resident.trim_end_matches(" kB").parse().unwrap(), ticks / 100.0)
    }
}

impl Drop for Recorder {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// All at once, again and again: silent connections, viewers that read nothing, long bodies, foreign names.
fn attack(at: SocketAddr, until: Instant) -> usize {
    let mut silent = Vec::new();
    let mut stalled = Vec::new();
    let mut connections = 0;
    while Instant::now() < until {
        for _ in 0..250 {
            connections += 1;
            silent.extend(TcpStream::connect_timeout(&at, Duration::from_secs(5)));
        }
        // The newest few thousand stay.
        silent.drain(..silent.len().saturating_sub(4000));
        if stalled.len() < 20 {
            let mut viewer = TcpStream::connect(at).unwrap();
            set_socket_recv_buffer_size(&viewer, 4096).unwrap();
            let _ = viewer.write_all(format!("GET /live HTTP/1.1\r\nhost: {at}\r\n\r\n").as_bytes());
            stalled.push(viewer);
        }
        let mut long = TcpStream::connect(at).unwrap();
        let head = "content-type: application/json\r\ncontent-length: 1073741824";
        let _ = long.write_all(format!("POST /wish HTTP/1.1\r\nhost: {at}\r\n{head}\r\n\r\n").as_bytes());
        let spaces = vec![b' '; 65_536];
        let _ = (0..1000).take_while(|_| long.write_all(&spaces).is_ok()).count();
        if let Some(answer) = try_ask(at, b"GET / HTTP/1.1\r\nhost: evil.test\r\n\r\n") {
            assert_eq!((answer.status, answer.body.len()), (421, 0));
        }
    }
    connections
}

#[test]
fn the_recorder_loses_nothing_and_who_looks_on_sees_it_meanwhile() {
    allow_files(6000);
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("plow.toml"), plow_toml()).unwrap();
    let sensor_box = VirtualBox::open(BoxConfig {
        row_rate_mhz: RATE_HZ * 1000,
        link: Some(folder.path().join("port")),
        ..BoxConfig::of_case(Case::Balanced, 1, 60.0)
    })
    .unwrap();
    let (recorder, at) = Recorder::start(folder.path(), &["--setting", "as-found", "--into", "run"]);
    let mut viewer = Viewer::new(at);
    while viewer.next_named("now").data["load_n"].is_null() {}
    let seconds = std::env::var("SECONDS").map_or(SECONDS, |seconds| seconds.parse().unwrap());
    let (memory_before, core_before) = recorder.costs();
    let mut memory_early = 0;
    let (begun, over) = (Instant::now(), AtomicBool::new(false));
    let (mut late, connections) = std::thread::scope(|scope| {
        let watching = scope.spawn(|| {
            let mut seen = Vec::new();
            while !over.load(Ordering::Relaxed) {
                let now = viewer.next_named("now");
                seen.push(now.at.duration_since(begun).as_secs_f64() - now.data["t_s"].as_f64().unwrap());
            }
            // What is between the clocks of both is in the quickest of them.
            let least = seen.iter().copied().fold(f64::INFINITY, f64::min);
            seen.iter().map(|late_s| Duration::from_secs_f64(late_s - least)).collect::<Vec<_>>()
        });
        let mut connections = attack(at, begun + Duration::from_secs(seconds) / 4);
        memory_early = recorder.costs().0;
        connections += attack(at, begun + Duration::from_secs(seconds));
        over.store(true, Ordering::Relaxed);
        (watching.join().unwrap(), connections)
    });
    late.sort();
    let (memory_after, core_after) = recorder.costs();
    let took_s = begun.elapsed().as_secs_f64();
    let (median, p99) = (quantile(&late, 0.5), quantile(&late, 0.99));
    println!(
        "{connections} silent connections in {took_s:.1} s; readings to one who looks on: {} , later than the quickest \
         by {median:?} (median), {p99:?} (p99); the recorder: {:.0} % of a core, {memory_before} kB before, {memory_early} kB \
         after a quarter, {memory_after} kB after all",
        late.len(),
        100.0 * (core_after - core_before) / took_s
    );
    let mut recorder = recorder;
    kill_process(Pid::from_child(&recorder.0), Signal::INT).unwrap();
    assert!(recorder.0.wait().unwrap().success());
    let sent = sensor_box.rows();
    sensor_box.stop();
    let _ = sensor_box.join();
    assert!(p99 < IN_TIME, "{p99:?}");
    assert!(memory_after < memory_before + 8000, "{memory_before} kB, then {memory_after} kB");
    assert!(memory_after < memory_early + 4000, "{memory_early} kB, then {memory_after} kB");

    let run = open_run(&folder.path().join("run")).unwrap();
    assert_eq!(run.description.run.state, RunState::Ended);
    let counters = run.description.boxes[0].counters.unwrap();
    assert_eq!((counters.rows_lost, counters.gaps, counters.rows_refused), (0, 0, 0), "{counters:?}");
    // Row numbers have no gap; what the box sent after the end is not of the run.
    assert!(counters.rows as f64 > 0.9 * sent as f64, "{} of {sent}", counters.rows);
    let mut table = String::new();
    std::fs::File::open(folder.path().join("run/plow.csv")).unwrap().read_to_string(&mut table).unwrap();
    assert_eq!(table.lines().count() as u64, counters.rows + 1);
}
