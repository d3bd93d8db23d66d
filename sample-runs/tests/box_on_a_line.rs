//! A host on the other end of the virtual box's port: what it gets must be what the box says it sent.
#![allow(clippy::unwrap_used)] // the helpers below are part of the tests: they fail by panicking

mod host;

use host::*;
use std::io::Write;
use std::time::{Duration, Instant};

use firmware_protocol::{Frame, encode};
use sample_runs::sensors::Sensor;
use sample_runs::virtual_box::{BoxConfig, BoxError, VirtualBox};

#[test]
fn a_faultless_pass_arrives_whole_and_again_the_same() {
    let mut counts = Vec::new();
    for _ in 0..2 {
        let folder = tempfile::tempdir().unwrap();
        let (rows, counters, report, truth) = ride(quick(&folder), &folder);
        assert_eq!(counters.damaged(), 0);
        assert_eq!(rows.len(), truth.len());
        assert!(rows.iter().zip(&truth).all(|(got, truth)| same(got, truth) && truth.fate == "sent"));
        assert!((0..).zip(&rows).all(|(i, row)| row.0 == i));
        // 15 s at 200 Hz, both ends counted.
        assert_eq!(rows.len(), 3_001);
        assert_eq!((report.rows_sampled, report.rows_sent, report.boots), (3_001, 3_001, 1));
        assert!(report.truth.is_some());
        assert!(!folder.path().join("port").exists(), "the link goes with the box");
        counts.push(rows.into_iter().map(|row| row.2).collect::<Vec<_>>());
    }
    assert_eq!(counts[0], counts[1], "the same seed gives the same counts");
}

#[test]
fn hello_comes_by_itself_and_says_what_the_box_is() {
    let folder = tempfile::tempdir().unwrap();
    let mut config = quick(&folder);
    config.sensors = Sensor::ALL.to_vec();
    config.name = "front box".to_owned();
    config.faults.protocol_major = 9;
    let (handle, mut host) = opened(config);
    host.listen_until("two hellos", |host| host.hellos().len() >= 2);
    let hello = *host.hellos()[0];
    assert_eq!(hello.version.0, 9);
    assert_eq!((hello.name.as_str(), hello.serial.as_str()), ("front box", "VB-0001"));
    assert_eq!((hello.boot, hello.row_rate_mhz), (1, 200_000));
    let names: Vec<&str> = hello.channels().iter().map(|channel| channel.name.as_str()).collect();
    assert_eq!(names, ["pull", "tail", "depth", "front-load", "pitch"]);
    assert!(!handle.has_started() && host.readings().is_empty(), "nothing before start");
    handle.stop();
    assert_eq!(handle.join().unwrap().rows_sampled, 0);
}

#[test]
fn ping_stop_and_rate_are_obeyed() {
    let folder = tempfile::tempdir().unwrap();
    let mut config = quick(&folder);
    config.pass.times.working_s = 600.0;
    config.speed_up = 5.0;
    let (handle, mut host) = opened(config);
    let time = |host: &Host, wanted: u32| {
        host.frames.iter().find_map(|frame| match frame {
            Frame::Time(time) if time.token == wanted => Some(time.clock_us),
            _ => None,
        })
    };
    host.say(Frame::Ping { token: 77 });
    host.listen_until("time", |host| time(host, 77).is_some());
    host.say(Frame::Rate { row_rate_mhz: 50_000 });
    host.say(Frame::Start);
    host.listen_until("rows at 50 Hz", |host| host.readings().len() >= 3);
    host.say(Frame::Rate { row_rate_mhz: u32::MAX }); // absurd: not obeyed
    host.say(Frame::Rate { row_rate_mhz: 400_000 });
    host.listen_until("rows at 400 Hz", |host| host.readings().iter().any(|r| r.interval_us == 2_500));
    host.say(Frame::Ping { token: 78 });
    host.listen_until("time again", |host| time(host, 78).is_some());
    let between_us = time(&host, 78).unwrap() - time(&host, 77).unwrap();
    let last = host.rows().last().unwrap().1;
    assert!(between_us > 100_000 && last <= time(&host, 78).unwrap() + 100_000);
    // Rows go on without a gap in their numbers, and their times rise, whatever the rate.
    let rows = host.rows();
    assert!(rows.windows(2).all(|two| two[1].0 == two[0].0 + 1 && two[1].1 > two[0].1));
    assert!(host.readings().iter().all(|r| [20_000, 2_500].contains(&r.interval_us)));
    host.say(Frame::Stop);
    let hellos = host.hellos().len();
    host.listen_until("hello after stop", |host| host.hellos().len() > hellos);
    let stopped = host.rows().len();
    let begun = Instant::now();
    while begun.elapsed() < Duration::from_millis(200) {
        host.listen();
    }
    assert_eq!(host.rows().len(), stopped);
    assert!(host.frames.iter().any(|frame| matches!(frame, Frame::Status(s) if s.uptime_ms > 0)));
    handle.stop();
    handle.join().unwrap();
}

#[test]
fn dropped_doubled_and_damaged_frames_are_what_the_truth_says() {
    let folder = tempfile::tempdir().unwrap();
    let mut config = quick(&folder);
    config.faults.drop_frames = 0.05;
    config.faults.dup_frames = 0.05;
    config.faults.flip_bits = 5e-5;
    let (rows, counters, report, truth) = ride(config, &folder);
    let fate = |name: &str| truth.iter().filter(|row| row.fate == name).count();
    assert!(fate("dropped") > 0 && fate("doubled") > 0 && fate("damaged") > 0, "{report:?}");
    assert!(counters.damaged() > 0);
    // Everything that arrived is true, and everything that went out whole arrived; of a doubled frame
    // at least one copy did. A flip can make two frames of one or one of two, so a frame beside a
    // damaged one may be lost with it.
    for row in &rows {
        assert!(same(row, &truth[row.0 as usize]), "{row:?}");
    }
    let arrived = |number: u32| rows.iter().filter(|row| row.0 == number).count();
    let missing = truth.iter().filter(|row| row.fate == "sent" && arrived(row.row) == 0).count();
    assert!(missing <= fate("damaged"), "{missing}");
    assert!(truth.iter().filter(|row| row.fate == "dropped").all(|row| arrived(row.row) == 0));
    assert!(truth.iter().filter(|row| row.fate == "doubled").any(|row| arrived(row.row) == 2));
}

#[test]
fn a_pulled_cable_moves_the_link_and_loses_only_the_time_it_was_out() {
    let folder = tempfile::tempdir().unwrap();
    let mut config = quick(&folder);
    config.faults.unplug_at_s = vec![6.0];
    config.faults.unplug_for_s = 2.0;
    let (handle, mut host) = started(config);
    let first_port = std::fs::read_link(handle.path()).unwrap();
    host.listen_until("the cable to be pulled", |host| host.gone);
    let before = host.rows();
    // The old port is held while the new one appears, so that it must have another name.
    let mut again = Host::open(handle.path());
    assert_ne!(std::fs::read_link(handle.path()).unwrap(), first_port);
    drop(host);
    again.listen_to_the_end(&handle);
    let after = again.rows();
    drop(again);
    handle.join().unwrap();
    let truth = truth_rows(&folder);
    for row in before.iter().chain(&after) {
        assert!(same(row, &truth[row.0 as usize]), "{row:?}");
    }
    let out = truth.iter().filter(|row| row.fate == "unplugged").count();
    assert!((380..=420).contains(&out), "2 s at 200 Hz, in whole frames: {out}");
    assert_eq!(after.last().unwrap().0, truth.last().unwrap().row);
    assert!(truth.iter().all(|row| row.boot == 1));
}

#[test]
fn a_reset_starts_rows_and_clock_anew_under_a_new_boot_number() {
    let folder = tempfile::tempdir().unwrap();
    let mut config = quick(&folder);
    config.faults.reset_at_s = vec![5.0];
    config.faults.mark_at_s = vec![3.0];
    let (handle, mut host) = started(config);
    host.listen_until("hello of the second boot", |host| host.hellos().last().is_some_and(|h| h.boot == 2));
    let before = host.rows().len();
    assert!((900..=1000).contains(&before), "{before}");
    host.say(Frame::Start);
    host.listen_to_the_end(&handle);
    let rows = host.rows();
    assert_eq!(rows[before].0, 0);
    assert!(rows[before].1 < rows[before - 1].1, "the clock started anew");
    let marks = host.each(|frame| if let Frame::Mark(mark) = frame { Some(mark) } else { None });
    assert_eq!(marks.len(), 1);
    assert!(marks[0].clock_us > 3_000_000);
    drop(host);
    assert_eq!(handle.join().unwrap().boots, 2);
    let truth = truth_rows(&folder);
    let second = truth.iter().filter(|row| row.boot == 2).collect::<Vec<_>>();
    assert_eq!(second.len(), rows.len() - before);
    assert!(rows[before..].iter().zip(second).all(|(got, truth)| same(got, truth)));
}

#[test]
fn clock_wraps_drifts_and_jitters_without_losing_order() {
    let folder = tempfile::tempdir().unwrap();
    let mut config = quick(&folder);
    config.faults.clock_start_us = u32::MAX - 3_000_000;
    config.faults.drift_ppm = 50.0;
    config.faults.jitter_ms = 30.0;
    let (rows, counters, _, truth) = ride(config, &folder);
    assert_eq!((counters.damaged(), rows.len()), (0, truth.len()));
    assert!(rows.iter().zip(&truth).all(|(got, truth)| same(got, truth)));
    assert!(rows.windows(2).all(|two| two[1].1.wrapping_sub(two[0].1) == 5_000));
    assert!(rows.last().unwrap().1 < rows[0].1, "the clock has wrapped");
}

#[test]
fn the_box_goes_by_itself_when_everything_is_read_and_not_before() {
    let folder = tempfile::tempdir().unwrap();
    let (handle, mut host) = started(quick(&folder));
    host.listen_until("the end of the pass", |_| handle.is_pass_over());
    // The last bytes are left unread for longer than the box looks.
    std::thread::sleep(Duration::from_millis(250));
    host.listen_until("the port to close", |host| host.gone);
    let report = handle.join().unwrap();
    assert_eq!(host.rows().len() as u64, report.rows_sampled);
}

#[test]
fn noise_from_the_host_is_no_order_and_no_harm() {
    let folder = tempfile::tempdir().unwrap();
    let (handle, mut host) = opened(quick(&folder));
    let mut state = 0x2545_F491_4F6C_DD1Du64; // xorshift: any bytes will do
    for _ in 0..200 {
        let noise: Vec<u8> = std::iter::repeat_with(|| {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            state.to_le_bytes()[0]
        })
        .take(256)
        .collect();
        // What does not fit is lost: it was noise.
        let _ = host.port.write(&noise);
        host.listen();
    }
    assert!(!handle.has_started());
    // An order is heard all the same, once a 0x00 has ended the noise before it.
    let begun = Instant::now();
    while !handle.has_started() {
        let _ = host.port.write(&[&[0], encode(&Frame::Start).as_bytes()].concat());
        host.listen();
        assert!(begun.elapsed() < PATIENCE, "the box hears nothing any more");
        std::thread::sleep(Duration::from_millis(5));
    }
    handle.stop();
    handle.join().unwrap();
}

#[test]
fn a_slow_host_holds_the_box_up_and_loses_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut config = quick(&folder);
    config.speed_up = 10_000.0;
    config.pass.times.working_s = 120.0;
    let (handle, mut host) = started(config);
    // Far more than a pseudo-terminal and the box can hold is due by now.
    std::thread::sleep(Duration::from_millis(300));
    assert!(!handle.is_pass_over());
    host.listen_to_the_end(&handle);
    let rows = host.rows();
    drop(host);
    assert_eq!(rows.len() as u64, handle.join().unwrap().rows_sampled);
    assert!((0..).zip(&rows).all(|(i, row)| row.0 == i));
}

#[test]
fn a_host_that_comes_back_finds_the_box_still_sending() {
    let folder = tempfile::tempdir().unwrap();
    let (handle, mut host) = started(quick(&folder));
    host.listen_until("rows", |host| host.rows().len() > 100);
    drop(host); // killed, say
    std::thread::sleep(Duration::from_millis(40));
    let mut again = Host::open(handle.path());
    again.say(Frame::Start);
    again.listen_to_the_end(&handle);
    assert!(!again.hellos().is_empty(), "start is always answered with hello");
    drop(again);
    handle.join().unwrap();
    let truth = truth_rows(&folder);
    assert!(truth.iter().any(|row| row.fate == "nobody"));
    assert!(truth.iter().all(|row| row.boot == 1), "no new pass, no new boot");
    assert!((0..).zip(&truth).all(|(i, row)| row.row == i));
}

#[test]
fn nonsense_is_refused_before_anything_is_there() {
    type Change = fn(&mut BoxConfig);
    let folder = tempfile::tempdir().unwrap();
    let refuse = |change: Change| {
        let mut config = quick(&folder);
        change(&mut config);
        VirtualBox::open(config).err().map(|error| error.to_string())
    };
    let wrong: [(&str, Change); 10] = [
        ("speed-up", |c| c.speed_up = f64::NAN),
        ("row rate", |c| c.row_rate_mhz = 0),
        ("at least 1 row", |c| c.rows_per_frame = 0),
        ("1 to 8 channels", |c| c.sensors.clear()),
        ("longer than 24 bytes", |c| c.name = "x".repeat(25)),
        ("not printable", |c| c.serial = "\u{1b}[2J".to_owned()),
        ("a share", |c| c.faults.drop_frames = 1.5),
        ("a moment", |c| c.faults.reset_at_s = vec![f64::INFINITY]),
        ("a pass lasts", |c| c.pass.times.working_s = f64::NAN),
        ("only with a link", |c| {
            c.link = None;
            c.faults.unplug_at_s = vec![1.0];
        }),
    ];
    for (part, change) in wrong {
        let sentence = refuse(change).unwrap();
        assert!(sentence.starts_with("virtual box: ") && sentence.contains(part), "{sentence}");
        assert!(!folder.path().join("port").exists() && !folder.path().join("truth.csv").exists(), "{part}");
    }
    std::fs::write(folder.path().join("port"), "a file").unwrap();
    let taken = VirtualBox::open(quick(&folder));
    assert!(matches!(taken, Err(BoxError::LinkTaken { .. })));
    assert_eq!(std::fs::read_to_string(folder.path().join("port")).unwrap(), "a file");
}
