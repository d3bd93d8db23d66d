//! Four boxes of eight channels each at 1 kHz, on the clock of the wall: an hour unless `SECONDS` says otherwise. What
//! the recorder took of the processor is printed, for whoever reads it; what is held is that every row that a box sent
//! is there, and that memory stands where it stood after the first tenth.

use std::fmt::Write as _;
use std::fs;
use std::io::{Read, Write as _};
use std::os::fd::AsFd;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use firmware_protocol::{
    Channel, ChannelKind, Decoder, Event, Frame, Hello, Label, Readings, Status, Time, encode,
};
use hitchwright_tests::binaries::Program;
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::{Running, Signal};
use hitchwright_tests::pty::Pty;
use hitchwright_tests::run_folder::{read_events, runs_in};
use hitchwright_tests::{Doing, Failure, Outcome};
use ingest::run_toml::read_run_toml;
use rustix::fs::{OFlags, fcntl_getfl, fcntl_setfl};
use sample_runs::sensors::Sensor;

const BOXES: u8 = 4;
const CHANNELS: usize = 8;
const ROWS_IN_FRAME: u32 = 5;
const INTERVAL_US: u32 = 1_000;
/// Of a code that no version has: a column of one's own.
const OWN: ChannelKind = ChannelKind::Other(200);

/// Names and kinds of a box's channels: those of every plow are on the first.
fn channels(number: u8) -> Vec<(String, ChannelKind)> {
    let of_the_plow =
        [("pull", ChannelKind::Pull), ("tail", ChannelKind::TailDeflection), ("depth", ChannelKind::Depth)];
    let of_the_plow = of_the_plow.into_iter().filter(|_| number == 0);
    let of_the_plow = of_the_plow.map(|(name, kind)| (name.to_owned(), kind));
    of_the_plow.chain((0..).map(|k| (format!("b{number}c{k}"), OWN))).take(CHANNELS).collect()
}

fn label<const N: usize>(text: &str) -> Outcome<Label<N>> {
    Label::new(text).map_err(|e| Failure(format!("{text}: {e:?}")))
}

fn hello(number: u8) -> Outcome<Hello> {
    let channel = |(name, kind): (String, ChannelKind)| {
        Ok(Channel { name: label(&name)?, kind, adc_bits: 24, rate_mhz: 1_000_000 })
    };
    let channels: Outcome<Vec<Channel>> = channels(number).into_iter().map(channel).collect();
    let (serial, name) = (label(&format!("H{number}"))?, label(&format!("box {number}"))?);
    Hello::new(1, (1, 0, 0), 1_000_000, serial, name, &channels?)
        .ok_or_else(|| Failure(format!("box {number} has no hello")))
}

/// Speaks as a box does until the host says stop, and gives the number of rows that it sent.
fn speak(line: Pty, number: u8, is_over: &AtomicBool) -> Outcome<u64> {
    let mut line = line.into_device();
    let doing = || format!("speak as box {number}");
    let flags = fcntl_getfl(line.as_fd()).doing(doing)?;
    fcntl_setfl(line.as_fd(), flags | OFlags::NONBLOCK).doing(doing)?;
    let (hello, power_up) = (Frame::Hello(hello(number)?), Instant::now());
    let (mut decoder, mut waiting) = (Decoder::new(), Vec::new());
    let (mut is_started, mut row, mut next_us, mut said_s) = (false, 0u32, 0u64, 0);
    while !is_over.load(Ordering::Relaxed) {
        let mut buffer = [0; 512];
        let length = line.read(&mut buffer).unwrap_or(0);
        let mut bytes = buffer.get(..length).unwrap_or(&[]);
        while let Some(event) = decoder.next_event(&mut bytes) {
            let now_us = power_up.elapsed().as_micros() as u64;
            match event {
                Event::Frame(Frame::Ping { token }) => {
                    let time = Time { token, clock_us: now_us as u32 };
                    waiting.extend_from_slice(encode(&Frame::Time(time)).as_bytes());
                }
                Event::Frame(Frame::Start) => {
                    waiting.extend_from_slice(encode(&hello).as_bytes());
                    if !is_started {
                        (is_started, next_us) = (true, now_us);
                    }
                }
                Event::Frame(Frame::Stop) => is_started = false,
                _ => {}
            }
        }
        let now_us = power_up.elapsed().as_micros() as u64;
        if now_us / 1_000_000 > said_s {
            said_s = now_us / 1_000_000;
            let uptime_ms = (now_us / 1000) as u32;
            let status = Status { uptime_ms, rows_dropped: 0, supply_mv: 12_000, temperature_centi_c: 2_000 };
            let said = if is_started { Frame::Status(status) } else { hello };
            waiting.extend_from_slice(encode(&said).as_bytes());
        }
        let frame_us = u64::from(INTERVAL_US * ROWS_IN_FRAME);
        while is_started && next_us + frame_us <= now_us {
            let counts: Vec<i32> = (0..ROWS_IN_FRAME * CHANNELS as u32)
                .map(|k| (row.wrapping_mul(31).wrapping_add(k * 977) % 4_000_000) as i32)
                .collect();
            let readings = Readings::new(row, next_us as u32, INTERVAL_US, CHANNELS, &counts);
            let readings = readings.map_err(|e| Failure(format!("{e:?}")))?;
            waiting.extend_from_slice(encode(&Frame::Readings(readings)).as_bytes());
            row += ROWS_IN_FRAME;
            next_us += frame_us;
        }
        // What the line does not take now waits, as in the memory of a box.
        let taken = line.write(&waiting).unwrap_or(0);
        waiting.drain(..taken);
        std::thread::sleep(Duration::from_millis(2));
    }
    Ok(u64::from(row))
}

/// Processor time that a process took so far, in s, and its memory, in KiB.
fn taken(pid: u32) -> Outcome<(f64, u64)> {
    let read = |what: &str| {
        let path = format!("/proc/{pid}/{what}");
        fs::read_to_string(&path).doing(|| format!("read {path}"))
    };
    let (stat, status) = (read("stat")?, read("status")?);
    let nothing = || Failure("proc(5) has changed".into());
    // Fields 14 and 15 of proc(5), in hundredths of a second; the second one may have spaces in it.
    let fields: Vec<&str> = stat.rsplit_once(')').ok_or_else(nothing)?.1.split_whitespace().collect();
    let ticks: u64 = fields.iter().skip(11).take(2).filter_map(|field| field.parse::<u64>().ok()).sum();
    let memory = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).ok_or_else(nothing)?;
    let memory_kib = memory.split_whitespace().next().and_then(|kib| kib.parse().ok()).ok_or_else(nothing)?;
    Ok((ticks as f64 / 100.0, memory_kib))
}

#[test]
#[ignore = "takes an hour: SECONDS=3600 by default"]
fn four_boxes_of_eight_channels_at_a_kilohertz_lose_nothing_in_an_hour() -> Outcome<()> {
    let lasts_s: u64 = std::env::var("SECONDS").ok().and_then(|text| text.parse().ok()).unwrap_or(3600);
    let field = Field::new()?.with_sensors(&Sensor::BASIC)?;
    let mut plow = fs::read_to_string(field.plow()).doing(|| "read the plow".into())?;
    // As many as a run can have; the other channels are recorded in counts.
    let own =
        (0..BOXES).flat_map(|number| channels(number).into_iter().filter(|(_, kind)| *kind == OWN).take(2));
    for (channel, _) in own {
        let calibration = "{ date = \"2027-03-01\", points = [[0, \"0 V\"], [4000000, \"10 V\"]] }";
        write!(plow, "\n[[sensors]]\nchannel = \"{channel}\"\nmeasures = \"other\"\nname = \"{channel}\"\nunit = \"V\"\n\
             calibration = {calibration}\n").map_err(|e| Failure(e.to_string()))?;
    }
    fs::write(field.plow(), plow).doing(|| "write the plow".into())?;

    let is_over = Arc::new(AtomicBool::new(false));
    let mut args = field.recorder_args("--baud 921600 --port");
    args.pop();
    let mut boxes: Vec<JoinHandle<Outcome<u64>>> = Vec::new();
    for number in 0..BOXES {
        let line = Pty::open()?;
        args.extend(["--port".into(), line.port().into()]);
        let is_over = Arc::clone(&is_over);
        boxes.push(std::thread::spawn(move || speak(line, number, &is_over)));
    }
    let mut recorder = Running::start(Program::Recorder, args)?;
    let (begun, pid) = (Instant::now(), recorder.pid());
    let (mut memory_kib, mut processor_s) = (Vec::new(), 0.0);
    while begun.elapsed() < Duration::from_secs(lasts_s) {
        std::thread::sleep(Duration::from_secs(1));
        // If it has ended, its outputs say why.
        let Ok((so_far_s, kib)) = taken(pid) else { break };
        processor_s = so_far_s;
        memory_kib.push(kib);
    }
    let lasted_s = begun.elapsed().as_secs_f64();
    if recorder.is_running()? {
        recorder.signal(Signal::INT)?;
    }
    let ended = recorder.wait(3 * SOON)?.expect_code(0);
    is_over.store(true, Ordering::Relaxed);
    let sent: Vec<u64> = boxes
        .into_iter()
        .map(|it| it.join().map_err(|_| Failure("a box has panicked".into()))?)
        .collect::<Outcome<_>>()?;
    ended?;

    let (first, rest) = memory_kib.split_at(memory_kib.len() / 10);
    let most = |kib: &[u64]| kib.iter().copied().max().unwrap_or(0);
    println!(
        "{lasted_s:.0} s, {processor_s:.1} s of the processor: {:.2} % of a core; memory in KiB: {} at most in the first \
         tenth, {} at most in the rest, {} at the end",
        100.0 * processor_s / lasted_s,
        most(first),
        most(rest),
        rest.last().copied().unwrap_or(0)
    );
    let run = runs_in(&field.runs())?.pop().ok_or_else(|| Failure("no run folder".into()))?;
    let description = read_run_toml(&run.join("run.toml")).map_err(|e| Failure(e.to_string()))?;
    let counted = description.boxes.iter().filter_map(|sensor_box| sensor_box.counters.as_ref());
    let counted: Vec<(u64, u64, u64)> =
        counted.map(|counters| (counters.rows, counters.rows_lost, counters.gaps)).collect();
    println!("rows sent {sent:?}; rows, lost, gaps by box {counted:?}");
    let expected: Vec<(u64, u64, u64)> = sent.iter().map(|rows| (*rows, 0, 0)).collect();
    assert_eq!(counted, expected);
    // Until a box is started it says hello once a second.
    assert!(sent.iter().all(|rows| *rows > lasts_s.saturating_sub(4) * 1000), "{sent:?}");
    for sensor_box in &description.boxes {
        let file = format!("{}.csv", sensor_box.file);
        let table = fs::read(run.join(&file)).doing(|| format!("read {file}"))?;
        let lines = table.iter().filter(|byte| **byte == b'\n').count() as u64;
        assert!(sent.contains(&(lines - 1)), "{file} has {lines} lines");
    }
    let kinds: Vec<String> = read_events(&run)?.into_iter().map(|event| event.kind).collect();
    println!("events: {kinds:?}");
    // An allocator keeps what it has: flat is to within a tenth and 2 MiB. What is kept of the last seconds fills first.
    let may_be_kib = most(first) + most(first) / 10 + 2048;
    assert!(lasts_s < 600 || most(rest) <= may_be_kib, "{} KiB after {}", most(rest), most(first));
    Ok(())
}
