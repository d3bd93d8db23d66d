//! A GNSS receiver beside the box: real binaries over pseudo-terminals, in real time.

use std::ffi::OsStr;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::{Duration, Instant};

use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::{stdout_of, text_of};
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::{Running, Signal, wait_until};
use hitchwright_tests::receiver::{BOX, GnssPass, gnss_pass, start_receiver};
use hitchwright_tests::run_folder::{read_events, run_in, runs_in};
use hitchwright_tests::{Doing, Failure, Outcome};
use ingest::open_run::open_run;
use serde_json::Value;

/// Promises that every run with a receiver keeps: the box's rows are untouched by it, a rebuild gives the same
/// bytes (`verify` holds both), each row was sent, in order and once, and nothing was ever said to the receiver.
fn sound(pass: &GnssPass) -> Outcome<()> {
    let verified = pass.recorded.verify()?;
    assert_eq!((verified.rows_lost, verified.rows_written), (0, verified.rows_sampled));
    assert!(pass.receiver.stderr.contains("; 0 bytes from the host"), "{}", pass.receiver.stderr);
    assert_eq!(pass.table.columns, ["t_s", "lat_deg", "lon_deg", "speed_mps", "course_deg"]);
    let epochs = pass.epochs_of_rows()?;
    let counters = pass.counters()?;
    assert_eq!(counters.fixes as usize, pass.table.rows.len());
    assert!(epochs.len() > 5, "{} rows", epochs.len());
    let times: Vec<f64> = pass.table.rows.iter().map(|row| row[0].value).collect();
    // Run time against the receiver's own: the distance of any two rows is right to what the jitter leaves.
    let off: Vec<f64> = times.iter().zip(&epochs).map(|(t, epoch)| t - epoch.t_s).collect();
    let (least, most) = off.iter().fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(*x), b.max(*x)));
    println!("{} rows, run time less the receiver's: {least:.4} to {most:.4} s", times.len());
    assert!(most - least < 0.06, "{least} to {most}");
    assert!(times.windows(2).all(|two| two[0] < two[1]));
    Ok(())
}

/// Rows that were sent with a fix and undamaged from the first row on, and so must all be there.
fn due(pass: &GnssPass) -> Outcome<usize> {
    let first = pass.epochs_of_rows()?[0].t_s;
    let is_due = |epoch: &&hitchwright_tests::receiver::TrueEpoch| {
        epoch.t_s >= first && epoch.has_fix && epoch.fate == "sent" && epoch.damaged == 0
    };
    Ok(pass.truth.iter().filter(is_due).count())
}

#[test]
fn fixes_are_written_as_sent_and_jitter_is_taken_out_of_their_times() -> Outcome<()> {
    let pass =
        gnss_pass("--rate-hz 5 --latency-ms 120 --jitter-ms 60 --speed-profile 0:0.6,5:0.6,6:0,7.5:0,9:1.6")?;
    sound(&pass)?;
    // While it stands the receiver gives no course, and the last one is kept.
    let standing = pass.table.rows.iter().filter(|row| row[3].value == 0.0);
    assert!(standing.clone().count() > 5 && standing.clone().all(|row| row[4].value == 80.0));
    assert_eq!(due(&pass)?, pass.table.rows.len());
    // A row lies before its arrival by the jitter of its own, at most: the constant latency stays in.
    let ahead = pass.ahead_of_arrival_s()?;
    let (least, most) = ahead.iter().fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(*x), b.max(*x)));
    println!("rows lie before their arrival by {least:.4} to {most:.4} s");
    // A machine that is busy with other things lets some bytes wait for longer: that is no fault of the rows.
    let by_jitter = ahead.iter().filter(|ahead| **ahead < 0.06 + 0.05).count();
    assert!(least > -0.03 && 5 * by_jitter >= 4 * ahead.len(), "{least} to {most}: {ahead:?}");
    assert_eq!((&pass.info.talkers[..], pass.info.baud), (&["GN".to_owned()][..], 9600));
    assert_eq!(pass.info.sentences, ["RMC", "GGA", "VTG"]);
    assert!(pass.info.residual_ms.is_some_and(|ms| (5.0..80.0).contains(&ms)), "{:?}", pass.info);
    assert_eq!(pass.events, []);
    let package = std::fs::read_to_string(pass.recorded.run()?.join("datapackage.json")).unwrap();
    assert!(package.contains("\"gnss.csv\"") && package.contains("\"lat_deg\""));
    assert!(pass.recorded.ended.stdout.contains(&format!("{} GNSS fixes", pass.table.rows.len())));
    Ok(())
}

/// Every fourth sentence has another digit in place of a digit: nothing but its checksum can tell.
#[test]
fn bad_checksums_are_counted_to_the_sentence_and_give_no_row() -> Outcome<()> {
    let pass = gnss_pass("--rate-hz 4 --sentences rmc --damage-every 4")?;
    sound(&pass)?;
    let damaged: u64 = pass.truth.iter().map(|epoch| epoch.damaged).sum();
    let sent = pass.truth.iter().filter(|epoch| epoch.fate == "sent").count() as u64;
    let counters = pass.counters()?;
    // Eight or nine, by how soon the receiver was there.
    assert!(damaged > 5, "{damaged}");
    assert_eq!((counters.bad_checksums, counters.sentences), (damaged, sent - damaged));
    assert_eq!((counters.not_sentences, counters.too_long, counters.sentences_malformed), (0, 0, 0));
    assert_eq!(due(&pass)?, pass.table.rows.len());
    assert!(pass.recorded.ended.stdout.contains(&format!("{damaged} bad checksums")));
    Ok(())
}

#[test]
fn wrong_bits_cost_rows_and_never_change_one() -> Outcome<()> {
    let pass = gnss_pass("--rate-hz 10 --flip-bits 0.0003 --seed 5")?;
    sound(&pass)?;
    let damaged: u64 = pass.truth.iter().map(|epoch| epoch.damaged).sum();
    let counters = pass.counters()?;
    let counted = counters.bad_checksums + counters.not_sentences + counters.too_long;
    println!("{damaged} sentences damaged, {counted} lines counted");
    // A wrong line end or a line end that was none before joins or parts lines, so not to the line.
    assert!(damaged > 20 && counted.abs_diff(damaged) <= damaged / 4, "{damaged}, {counted}");
    Ok(())
}

#[test]
fn periods_without_fix_are_marked_and_have_no_rows() -> Outcome<()> {
    let pass = gnss_pass("--rate-hz 2 --no-fix-at 0,8 --no-fix-for 2.5 --sentences gga,rmc,vtg")?;
    sound(&pass)?;
    assert_eq!(due(&pass)?, pass.table.rows.len());
    let (lost, back) = (pass.events_of("no-fix"), pass.events_of("fix-back"));
    assert_eq!((lost.len(), back.len(), pass.events.len()), (2, 2, 4), "{:?}", pass.events);
    assert_eq!(lost[0].t_s, 0.0, "the run begins without a fix");
    let lasted_s = back[1].t_s - lost[1].t_s;
    assert!((lasted_s - 2.5).abs() < 0.1, "{lasted_s}");
    assert!(back[1].detail.ends_with("epochs=5"), "{:?}", back[1]);
    let inside = |t_s: f64| lost.iter().zip(&back).any(|(from, to)| (from.t_s..to.t_s - 1e-4).contains(&t_s));
    assert!(pass.table.rows.iter().all(|row| !inside(row[0].value)));
    assert_eq!(pass.counters()?.without_fix, 10);
    Ok(())
}

#[test]
fn a_receiver_that_is_unplugged_is_taken_up_again_and_does_not_touch_the_box() -> Outcome<()> {
    let pass = gnss_pass("--rate-hz 5 --unplug-at 5 --unplug-for 2")?;
    sound(&pass)?;
    let (gone, back) = (pass.events_of("port-gone"), pass.events_of("port-back"));
    assert_eq!((gone.len(), back.len()), (1, 1), "{:?}", pass.events);
    assert!((1.9..3.0).contains(&(back[0].t_s - gone[0].t_s)), "{gone:?} {back:?}");
    let after = pass.table.rows.iter().filter(|row| row[0].value > back[0].t_s).count();
    assert!(after > 10, "{after}");
    // An epoch that the pulled cable cut short, and one that was sent while the port was being opened.
    assert!(due(&pass)? - pass.table.rows.len() <= 2);
    let of_box = read_events(&pass.recorded.run()?)?;
    assert!(of_box.iter().all(|event| event.kind != "gap"), "{of_box:?}");
    Ok(())
}

#[test]
fn speed_from_vtg_and_midnight_and_other_talkers() -> Outcome<()> {
    for words in [
        "--sentences gga,vtg --rate-hz 10 --utc-s 86394 --talker GP",
        "--sentences vtg,gga --rate-hz 1 --utc-s 86394 --talker BD",
    ] {
        let pass = gnss_pass(words)?;
        sound(&pass)?;
        assert_eq!(due(&pass)?, pass.table.rows.len(), "{words}");
        assert_eq!(pass.events, []);
        assert!(pass.truth.iter().any(|epoch| epoch.tag == "000000.00"));
    }
    Ok(())
}

#[test]
fn a_recorder_that_is_killed_leaves_fixes_that_can_be_read_and_rebuilt() -> Outcome<()> {
    let field = Field::new()?.with_box(BOX);
    let _receiver = start_receiver(&field, "--rate-hz 10")?;
    let gnss = field.path("gnss").display().to_string();
    let mut recording = field.record(&format!("--gnss {gnss}"))?;
    recording.until_lines(600)?;
    let recorded = recording.end_with(Signal::KILL)?;
    recorded.verify_torn()?;
    let run = open_run(&recorded.run()?).unwrap();
    let fixes = run.gnss.unwrap();
    let text = std::fs::read_to_string(&fixes.path).unwrap();
    assert!(text.lines().count() > 10, "{text}");
    Ok(())
}

/// Presses a button of the page, `start` or `stop`, as soon as it does something: the log is ahead of the page by a moment.
fn press(address: &str, button: &str) -> Outcome<()> {
    let body = format!("{{\"wish\":\"{button}\"}}");
    wait_until(&format!("{button} to be taken"), SOON, || {
        let mut page = TcpStream::connect(address).doing(|| format!("connect to {address}"))?;
        write!(
            page,
            "POST /wish HTTP/1.1\r\nHost: {address}\r\nOrigin: http://{address}\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\nConnection: close\r\n\r\n{body}",
            body.len()
        )
        .doing(|| format!("ask for a {button}"))?;
        let mut answer = String::new();
        page.read_to_string(&mut answer).doing(|| "read the answer".into())?;
        let taken = answer.starts_with("HTTP/1.1 200 ");
        assert!(taken || answer.starts_with("HTTP/1.1 409 "), "{answer}");
        std::thread::sleep(Duration::from_millis(if taken { 0 } else { 300 }));
        Ok(taken.then_some(()))
    })
}

/// The receiver of an unattended recorder is not plugged in: a run begins without it, it is told wherever one looks, and
/// what it sends is recorded as soon as it comes, in the middle of the run.
#[test]
fn an_unattended_recorder_goes_on_without_its_receiver_and_takes_it_up_when_it_comes() -> Outcome<()> {
    let field = Field::new()?.with_box("--speed-up 1 --working-s 14");
    let _sensor_box = field.start_box()?;
    let gnss = field.path("gnss");
    let described = format!(
        "plow = \"plow.toml\"\nsetting = \"as-found\"\nstarted_by = \"hand\"\nstatus_file = \"status.json\"\n\
         [runs]\nfolder = \"runs\"\n[live]\naddress = \"127.0.0.1:0\"\n[gnss]\nport = \"{}\"\n[[boxes]]\nport = \"port\"\n",
        gnss.display()
    );
    let file = field.path("recorder.toml");
    std::fs::write(&file, described).doing(|| "write recorder.toml".into())?;
    let mut recorder = Running::start(Program::Recorder, [OsStr::new("--config"), file.as_os_str()])?;
    let served = recorder.wait_for_line("page served address=", SOON)?;
    let address = served.rsplit('=').next().unwrap_or_default().trim().to_owned();
    let missing = format!("without the GNSS receiver: waiting for {}: there is no such port", gnss.display());
    recorder.wait_for_line(&missing, SOON)?;
    press(&address, "start")?;
    recorder.wait_for_line("run began", SOON)?;
    press(&address, "stop")?;
    recorder.wait_for_line("run ended", SOON)?;
    let without = run_in(&field.runs())?;
    let checked = stdout_of(["check", text_of(&without)])?;
    for part in ["gnss.csv: 0 fixes", "event port-gone: 1", "nothing came from the GNSS receiver in this run"]
    {
        assert!(checked.contains(part), "{part}: {checked}");
    }
    press(&address, "start")?;
    recorder.wait_for_line("run began", SOON)?;
    let begun = Instant::now();
    let shown = wait_until("the status to say so", SOON, || {
        let status: Value =
            serde_json::from_slice(&std::fs::read(field.path("status.json")).unwrap()).unwrap();
        Ok((status["phase"] == "recording").then_some(status))
    })?;
    let told = shown["troubles"].as_array().into_iter().flatten().find(|one| one["kind"] == "no_receiver");
    let told = told.and_then(|one| one["text"].as_str());
    assert!(told.is_some_and(|text| text.starts_with(&missing)), "{shown}");
    let receiver = start_receiver(&field, "--rate-hz 5 --lasts-s 4")?;
    let came_s = begun.elapsed().as_secs_f64();
    recorder.wait_for_line("sends places and speeds now", SOON)?;
    receiver.wait(SOON)?.expect_code(0)?;
    recorder.signal(Signal::TERM)?;
    let ended = recorder.wait(SOON)?.expect_code(0)?;
    let runs = runs_in(&field.runs())?;
    let run = runs.into_iter().find(|run| *run != without).ok_or_else(|| Failure("no second run".into()))?;

    let events = read_events(&run)?;
    let of_gnss: Vec<_> = events.iter().filter(|event| event.detail.starts_with("box=gnss; ")).collect();
    assert_eq!((of_gnss[0].kind.as_str(), of_gnss[0].t_s), ("port-gone", 0.0), "{of_gnss:?}");
    assert!(of_gnss[0].detail.ends_with("there is no such port"), "{of_gnss:?}");
    assert_eq!(of_gnss[1].kind, "port-back", "{of_gnss:?}");
    // As far as the look-back goes before the run was asked for.
    assert!((came_s - 1.0..came_s + 7.0).contains(&of_gnss[1].t_s), "{came_s} {of_gnss:?}");
    let opened = open_run(&run).doing(|| "open the run".into())?;
    assert!(opened.description.boxes[0].counters.is_some_and(|box_| box_.rows > 100 && box_.rows_lost == 0));
    let counters = opened.description.gnss.and_then(|gnss| gnss.counters).unwrap_or_default();
    assert!((15..=20).contains(&counters.fixes), "{counters:?}\n{}", ended.stderr);
    let checked = stdout_of(["check", text_of(&run)])?;
    for part in [
        "byte for byte",
        "event port-gone: ",
        "event port-back: 1",
        "receiver on ",
        "sentences RMC, GGA, VTG",
    ] {
        assert!(checked.contains(part), "{part}: {checked}");
    }
    Ok(())
}
