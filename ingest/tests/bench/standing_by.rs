//! A recorder that stands by: what it waits for, what can be asked of it and when, and what the plow asks for.

use crate::device::{BenchBox, Device};
use crate::rig::{Bench, Left, Person, choice_of, plow_of, start};
use firmware_protocol::ChannelKind;
use ingest::open_run::open_run;
use ingest::plow::ShareCondition;
use ingest::port::PortError;
use ingest::recorder::{Begin, Begins, Destination, GnssPort, PassChoice, RecordConfig, Wish};
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Duration;

/// A plow box at a recorder that stands by.
fn bench() -> (Bench, RecordConfig) {
    let bench = Bench::new([("plow", Device::Box(BenchBox::plow()))]);
    let config = RecordConfig { begin: Begin::OnStart, ..bench.config() };
    (bench, config)
}

const END: Wish = Wish::End("Ctrl-C");

#[test]
fn what_cannot_be_done_is_answered_with_why_and_the_rest_is_done() {
    let (bench, config) = bench();
    let config = RecordConfig { setting_name: None, ..config };
    let left = bench.record(&config, |person| async move {
        for (at_s, wish) in [
            (1.0, Wish::Mark),
            (1.1, Wish::Stop("the page")),
            (1.2, Wish::Enter),
            (1.3, Wish::Choose(choice_of("high"))),
            (1.4, start("high")),
            (8.0, start("low")),
            (9.0, start("low")),
            (9.5, Wish::Choose(choice_of("high"))),
            (10.0, Wish::Enter),
            (10.5, Wish::Mark),
            (11.0, Wish::Choose(PassChoice { share: Some(ShareCondition::Worn), ..PassChoice::default() })),
            (12.0, Wish::Stop("the page")),
            (13.0, Wish::Enter),
            (15.0, END),
        ] {
            person.wishes_at(at_s, wish).await;
        }
    });
    let said: Vec<_> = left.lines();
    let no_high = "the plow \"Test plow\" has no setting \"high\"; it has \"low\"";
    let no_setting = "the plow \"Test plow\" is to be recorded with a setting: name one; it has \"low\"";
    assert_eq!(
        said,
        [
            "stands by",
            "not done Mark: no run is being recorded",
            "not done Stop: no run is being recorded",
            "chosen by person: - - - -",
            &format!("not done Start: no run begins: {no_setting}"),
            &format!("not done Choose: {no_high}"),
            &format!("not done Start: {no_high}"),
            "chosen by person: low - - -",
            "began low sharp",
            "not done Start: a run is being recorded already: stop it first",
            &format!("not done Choose: {no_high}"),
            "7.0 s: a mark was set",
            "7.5 s: a mark was set",
            "chosen by person: low worn - -",
            "ended: stopped by the page",
            "stands by",
            "chosen by person: low worn - -",
            "began low worn",
            "ended: stopped by Ctrl-C",
        ]
    );
    assert_eq!(left.recorded.as_ref().unwrap().runs, 2);
    let [first, second] = &left.runs()[..] else { panic!("{:?}", left.runs()) };
    let marks =
        |run: &Path| open_run(run).unwrap().events.iter().filter(|event| event.kind.name() == "mark").count();
    assert_eq!((marks(first), marks(second)), (2, 0));
}

#[test]
fn a_note_is_of_one_run_and_the_field_is_of_all() {
    let (bench, config) = bench();
    let (field, note) = (Some("brook".to_owned()), Some("wet".to_owned()));
    let left = bench.record(&RecordConfig { field, note, ..config }, |person| async move {
        for (at_s, wish) in [(2.0, Wish::Enter), (4.0, Wish::Stop("x")), (12.0, Wish::Enter), (14.0, END)] {
            person.wishes_at(at_s, wish).await;
        }
    });
    left.once_s("chosen by run: low - brook -");
    let noted: Vec<_> = left.runs().iter().map(|run| open_run(run).unwrap().description.run).collect();
    let [first, second] = &noted[..] else { panic!("{noted:?}") };
    assert_eq!((first.field.as_deref(), first.note.as_deref()), (Some("brook"), Some("wet")));
    assert_eq!((second.field.as_deref(), second.note.as_deref()), (Some("brook"), None));
}

#[test]
fn all_that_is_away_is_told_in_one_sentence_once_and_no_run_begins_before_the_boxes_are_there() {
    let (bench, config) = bench();
    let gnss = Some(GnssPort { port: "gnss".into(), baud: 9600 });
    let left = bench.record(
        &RecordConfig { ports: vec!["plow".into(), "second".into()], gnss, ..with_pitch(config) },
        |person| async move {
            person.wishes_at(6.0, start("low")).await;
            person.at(8.0).await;
            person.plug("second", Device::Box(BenchBox::other("tractor", "T-2")));
            person.wishes_at(11.0, start("low")).await;
            person.wishes_at(13.0, END).await;
        },
    );
    let away = "waiting for second: there is no such port; no other; without the GNSS receiver: waiting for gnss: there \
                is no such port; no other";
    assert!(left.once_s(away) < 0.2);
    left.once_s(&format!("not done Start: no run begins: {away}"));
    assert!((8.0..9.0).contains(&left.once_s("stands by")), "{:?}", left.told);
    assert_eq!(
        left.shown_at(5.0).boxes_away,
        [None, Some("waiting for second: there is no such port; no other".to_owned())]
    );
    let is_away = |at_s| left.shown_at(at_s).boxes_away.iter().any(Option::is_some);
    assert!(is_away(5.0) && !is_away(10.0));
    assert_eq!(left.recorded.unwrap().runs, 1);
}

fn with_pitch(config: RecordConfig) -> RecordConfig {
    RecordConfig { plow: crate::rig::with_sensor("pitch", "pitch", "deg"), ..config }
}

/// A box needs its time to say who it is; then what it does not say is told, once.
#[test]
fn a_box_that_says_nothing_is_told_of_after_five_seconds() {
    let bench = Bench::new([("plow", Device::silent())]);
    let config = RecordConfig { begin: Begin::OnStart, ..bench.config() };
    let left = bench.record(&config, |person| async move {
        person.wishes_at(3.0, start("low")).await;
        person.wishes_at(40.0, END).await;
    });
    let silent = "nothing arrives on port plow: is the sensor box switched on, and is this its port?";
    let told_s = left.once_s(&format!("waiting: {silent}"));
    assert!((5.0..5.3).contains(&told_s), "{told_s}");
    left.once_s(&format!("not done Start: no run begins: {silent}"));
    assert_eq!(left.lines().len(), 3, "{:?}", left.told);
}

/// Found: a wrong box that was there first had the right one refused, for channels that it has.
#[test]
fn a_box_that_does_not_fit_is_named_and_recorded_once_another_one_is_there() {
    let only_pull = BenchBox {
        name: "half a box",
        channels: vec![("pull", ChannelKind::Pull)],
        counts: |_| vec![2600],
        ..BenchBox::plow()
    };
    let bench = Bench::new([("plow", Device::Box(only_pull))]);
    let config = RecordConfig { begin: Begin::OnStart, ..bench.config() };
    let left = bench.record(&config, |person| async move {
        person.at(7.0).await;
        person.pull("plow");
        person.at(8.0).await;
        person.plug("plow", Device::Box(BenchBox { serial: "T-9", ..BenchBox::plow() }));
        person.wishes_at(14.0, start("low")).await;
        person.wishes_at(16.0, END).await;
    });
    let waiting = left.lines().into_iter().find(|line| line.starts_with("waiting: port plow: ")).unwrap();
    assert!(waiting.contains("\"half a box\"") && waiting.contains("\"depth\""), "{waiting}");
    assert!((8.0..12.0).contains(&left.once_s("stands by")), "{:?}", left.told);
    assert_eq!(left.recorded.unwrap().runs, 1);
}

/// Each ping is an answer on the line: a burst when the port is opened, one when all are there, then one a second.
#[test]
fn a_box_is_not_pinged_all_the_time() {
    let own = BenchBox::plow();
    let pings = Arc::clone(&own.pings);
    let bench = Bench::new([("plow", Device::Box(own))]);
    let config = RecordConfig { begin: Begin::OnStart, ..bench.config() };
    bench.record(&config, |person| async move { person.wishes_at(10.0, END).await });
    let pings = pings.load(Ordering::Relaxed);
    assert!((14..=24).contains(&pings), "{pings} pings in ten seconds");
}

#[test]
fn a_run_that_cannot_be_made_is_told_and_the_next_one_begins() {
    let (bench, config) = bench();
    let runs = bench.folder.path().join("runs");
    std::fs::write(&runs, "in the way").unwrap();
    let left = bench.record(&config, |person| async move {
        person.wishes_at(2.0, start("low")).await;
        person.at(3.0).await;
        std::fs::remove_file(&runs).unwrap();
        person.wishes_at(4.0, start("low")).await;
        person.wishes_at(6.0, END).await;
    });
    let lines = left.lines();
    assert!(lines.iter().any(|line| line.starts_with("not done Start: no run begins: ")), "{lines:?}");
    assert!(lines.iter().any(|line| line.starts_with("failed: ") && line.contains("cannot be made")));
    left.once_s("ended: stopped by Ctrl-C");
    assert_eq!(left.runs().len(), 1);
    assert_eq!(left.recorded.unwrap_err().to_string(), "1 of 2 runs failed");
}

/// Time 0 is five seconds before a run is asked for.
#[test]
fn a_recorder_that_is_ended_between_runs_has_recorded_those_before() {
    let (bench, config) = bench();
    let config = RecordConfig { duration: Some(Duration::from_secs(8)), ..config };
    let left = bench.record(&config, |person| async move {
        for at_s in [6.0, 20.0] {
            person.wishes_at(at_s, start("low")).await;
        }
        person.wishes_at(30.0, END).await;
    });
    let ended: Vec<_> = left.lines().into_iter().filter(|line| line.starts_with("ended")).collect();
    assert_eq!(ended, ["ended: the duration asked for was over"; 2]);
    let recorded = left.recorded.unwrap();
    assert_eq!(recorded.runs, 2);
    let last = recorded.last.unwrap();
    assert!((8.0..8.3).contains(&last.lasted_s), "{last:?}");
}

#[test]
fn nothing_recorded_is_nothing_failed() {
    let (bench, config) = bench();
    let left = bench.record(&config, |person| async move { person.wishes_at(3.0, END).await });
    let recorded = left.recorded.unwrap();
    assert_eq!((recorded.runs, recorded.last), (0, None));
}

/// A run of a box that sends no rows is kept and said to hold none.
#[test]
fn a_run_without_a_row_fails_with_why() {
    let mute = BenchBox { counts: |_| Vec::new(), ..BenchBox::plow() };
    let bench = Bench::new([("plow", Device::Box(mute))]);
    let config = RecordConfig { begin: Begin::OnStart, ..bench.config() };
    let left = bench.record(&config, |person| async move {
        person.wishes_at(2.0, start("low")).await;
        person.wishes_at(6.0, Wish::Stop("the page")).await;
        person.wishes_at(8.0, END).await;
    });
    let failed = left.lines().into_iter().find(|line| line.starts_with("failed: ")).unwrap();
    assert!(
        failed.ends_with("holds no row: the box answered, but sent none: look at its program"),
        "{failed}"
    );
    assert!(left.shown_at(5.0).no_rows);
    assert_eq!(left.recorded.unwrap_err().to_string(), "1 of 1 runs failed");
}

/// Another box on the port in the middle of a run, of which nothing can be recorded.
#[test]
fn a_run_ends_when_every_box_has_become_another_one() {
    let (bench, config) = bench();
    let left = bench.record(&config, |person| async move {
        person.wishes_at(2.0, start("low")).await;
        person.at(5.0).await;
        person.pull("plow");
        person.at(6.0).await;
        person.plug("plow", Device::Box(BenchBox { major: 2, ..BenchBox::plow() }));
        person.wishes_at(15.0, start("low")).await;
        person.wishes_at(20.0, END).await;
    });
    let lines = left.lines();
    let ended = lines.iter().find(|line| line.starts_with("ended: ")).unwrap();
    assert_eq!(*ended, "ended: the boxes changed and no longer fit the plow description");
    let refused = lines.iter().find(|line| line.starts_with("not done Start: ")).unwrap();
    assert!(refused.contains("port plow: ") && refused.contains("protocol 2"), "{refused}");
    assert_eq!(left.recorded.unwrap().runs, 1);
}

fn half(name: &'static str, channel: &'static str, kind: ChannelKind, counts: fn(f64) -> Vec<i32>) -> Device {
    Device::Box(BenchBox { name, serial: name, channels: vec![(channel, kind)], counts, ..BenchBox::plow() })
}

fn pull_box() -> Device {
    half("left", "pull", ChannelKind::Pull, |_| vec![2600])
}

fn depth_box() -> Device {
    half("right", "depth", ChannelKind::Depth, |_| vec![1500])
}

/// Two boxes whose cables are exchanged: between runs that is no harm, in a run its tables have other columns.
#[test]
fn boxes_may_be_exchanged_between_runs_and_not_in_one() {
    let bench = Bench::new([("plow", pull_box()), ("second", depth_box())]);
    let ports = vec!["plow".into(), "second".into()];
    let config = RecordConfig { begin: Begin::OnStart, ports, ..bench.config() };
    let left = bench.record(&config, |person| async move {
        let exchange = async |at_s: f64, plow: Device, second: Device| {
            person.at(at_s).await;
            person.pull("plow");
            person.pull("second");
            person.at(at_s + 0.5).await;
            person.plug("plow", plow);
            person.plug("second", second);
        };
        person.wishes_at(2.0, start("low")).await;
        person.wishes_at(6.0, Wish::Stop("the page")).await;
        exchange(7.0, depth_box(), pull_box()).await;
        person.wishes_at(20.0, start("low")).await;
        exchange(24.0, pull_box(), depth_box()).await;
        person.wishes_at(40.0, END).await;
    });
    let ended: Vec<_> = left.lines().into_iter().filter(|line| line.starts_with("ended: ")).collect();
    assert_eq!(
        ended,
        ["ended: stopped by the page", "ended: the boxes changed and no longer fit the plow description"],
        "{:?}",
        left.told
    );
    let changed: Vec<_> = left
        .lines()
        .into_iter()
        .filter(|line| line.contains("the channels of the sensor box changed"))
        .collect();
    assert_eq!(changed.len(), 4, "{changed:?}");
    let table = |run: &Path, file: &str| {
        let text = std::fs::read_to_string(run.join(file)).unwrap();
        let last = text.lines().last().unwrap().split_once(',').unwrap().1.to_owned();
        (text.lines().next().unwrap().to_owned(), text.lines().count(), last)
    };
    let [first, second] = &left.runs()[..] else { panic!("{:?}", left.runs()) };
    for (run, pull_file, depth_file) in [(first, "plow.csv", "right.csv"), (second, "left.csv", "plow.csv")] {
        for (file, header, reading) in
            [(pull_file, "t_s,pull_n", "800.00"), (depth_file, "t_s,depth_mm", "150.000")]
        {
            let (found, rows, last) = table(run, file);
            assert_eq!((found.as_str(), last.as_str()), (header, reading), "{file}");
            assert!(rows > 1500, "{rows} rows in {file}");
        }
    }
}

#[test]
fn runs_end_when_the_ports_stay_away_and_only_then() {
    let (bench, config) = bench();
    let config = RecordConfig { stop_when_gone: Some(Duration::from_secs(4)), ..config };
    let left = bench.record(&config, |person| async move {
        person.wishes_at(2.0, start("low")).await;
        person.at(5.0).await;
        person.pull("plow");
        person.at(7.0).await;
        person.plug("plow", Device::Box(BenchBox::plow()));
        person.at(10.0).await;
        person.pull("plow");
        person.wishes_at(20.0, END).await;
    });
    let ended: Vec<_> = left.told.iter().filter(|(_, line)| line.starts_with("ended")).collect();
    let [(at_s, _)] = ended[..] else { panic!("{:?}", left.told) };
    assert!((14.0..14.6).contains(at_s), "{at_s}");
    let run = left.recorded.unwrap().last.unwrap();
    assert_eq!(run.counters[0].reconnects, 1);
    // Two seconds and what the port took to be found again are missing of the row numbers.
    assert!((1000..=1500).contains(&run.counters[0].rows_lost), "{:?}", run.counters);
}

#[test]
fn a_port_that_another_program_has_is_not_waited_for() {
    let busy = |port: &Path| PortError::Busy { port: port.to_owned(), holder: "process 7".to_owned() };
    let (bench, config) = bench();
    let said = bench.closed("plow", busy).refused(&config);
    assert_eq!(said, "port plow is busy: process 7 has it; end that program or name another port");
    let (bench, config) = self::bench();
    let broken = |port: &Path| PortError::Other { port: port.to_owned(), cause: "protocol error".to_owned() };
    let left = bench.closed("plow", broken).record(&config, end_soon);
    left.once_s("waiting for plow: it cannot be opened (protocol error)");
    assert!(left.recorded.is_ok());
}

async fn end_soon(person: Person) {
    person.wishes_at(2.0, END).await;
}

/// In the ground from 10 s to 30 s and from 40 s to 42 s: 150 mm and 800 N, else out of it with hardly any pull.
fn in_and_out(on_s: f64) -> Vec<i32> {
    let is_in = (10.0..30.0).contains(&on_s) || (40.0..42.5).contains(&on_s);
    if is_in { vec![2600, 1500] } else { vec![1020, -500] }
}

fn by_plow(config: &mut RecordConfig) -> Device {
    config.begin = Begin::WhenInGround;
    Device::Box(BenchBox { counts: in_and_out, ..BenchBox::plow() })
}

#[test]
fn the_plow_begins_and_ends_its_runs_and_a_short_one_is_said_to_be() {
    let (bench, mut config) = bench();
    bench.plug_in("plow", by_plow(&mut config));
    (config.passes_before, config.setting_assumed) = (4, true);
    let left: Left = bench.record(&config, |person| async move {
        person.wishes_at(35.0, Wish::Choose(choice_of("low"))).await;
        person.wishes_at(60.0, END).await;
    });
    let lines = left.lines();
    let ended = "ended: the plow came out of the ground";
    assert_eq!(lines.iter().filter(|line| **line == ended).count(), 2, "{lines:?}");
    let short = lines.iter().find(|line| line.contains("and a verdict needs 6 s; the run is kept")).unwrap();
    assert!(short.starts_with("the plow worked for "), "{short}");
    let names: Vec<_> = left.runs().iter().map(|run| run.file_name().unwrap().to_owned()).collect();
    assert!(
        names.iter().zip(["5", "6"]).all(|(name, pass)| name.to_string_lossy().contains(pass)),
        "{names:?}"
    );
    // Who looked at the pins after the first pass has said nothing of it.
    let assumed = left.runs().into_iter().map(|run| open_run(&run).unwrap().description.run.setting_assumed);
    assert_eq!(assumed.collect::<Vec<_>>(), [true, false]);
    let run = open_run(&left.runs()[0]).unwrap().description.run;
    // Five seconds before it went in to some after it came out.
    assert!(run.lasted_s.is_some_and(|lasted_s| (25.0..40.0).contains(&lasted_s)), "{run:?}");
    let begins = |at_s| left.shown_at(at_s).begins;
    assert_eq!([8.0, 20.0, 37.0].map(begins), [Begins::WhenIn, Begins::OnceOut, Begins::WhenIn]);
}

/// A person who stops a run of the plow in the ground has stopped that of this pass; one that nothing can be found by has
/// every run started by hand.
#[test]
fn a_run_that_a_person_stops_in_the_ground_does_not_begin_again() {
    let (bench, mut config) = bench();
    bench.plug_in("plow", by_plow(&mut config));
    let left = bench.record(&config, |person| async move {
        person.wishes_at(18.0, Wish::Stop("the page")).await;
        person.wishes_at(36.0, END).await;
    });
    let of_runs =
        left.lines().into_iter().filter(|line| line.starts_with("began") || line.starts_with("ended"));
    assert_eq!(of_runs.collect::<Vec<_>>(), ["began low sharp", "ended: stopped by the page"]);
}

#[test]
fn a_plow_whose_passes_cannot_be_found_has_its_runs_started_by_hand() {
    let (bench, config) = bench();
    let text = include_str!("../recording/plow.toml");
    let (without_depth, _) = text.rsplit_once("[[sensors]]").unwrap();
    let config = RecordConfig { begin: Begin::WhenInGround, plow: plow_of(without_depth), ..config };
    let left = bench.record(&config, |person| async move {
        person.wishes_at(6.0, start("low")).await;
        person.wishes_at(8.0, END).await;
    });
    left.once_s("no run begins by itself, as no sensor measures the depth: each has to be started");
    assert_eq!(left.shown_at(5.0).begins, Begins::ByHand);
    left.once_s("began low sharp");
}

/// The folder of a run that is made at its very place, as `--into` asks.
#[test]
fn a_run_goes_into_the_folder_that_was_asked_for() {
    let (bench, config) = bench();
    let folder = bench.folder.path().join("runs").join("this one");
    let destination = Destination::Folder(folder.clone());
    let config = RecordConfig { begin: Begin::AtOnce, destination, ..config };
    let config = RecordConfig { duration: Some(Duration::from_secs(1)), ..config };
    let left = bench.record(&config, |_| async {});
    assert_eq!(left.recorded.unwrap().last.unwrap().folder, folder);
    assert!(folder.join("plow.csv").is_file());
}
