//! What is put in is what is given out.

use super::*;
use ingest::assemble::Row;
use ingest::plow::{ShareCondition, read_plow};
use std::path::Path;

const COLUMNS: [ChannelRole; 3] = [ChannelRole::Pull, ChannelRole::Tail, ChannelRole::Depth];

fn live() -> Live {
    let plow = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/plows/two-bottom.toml");
    let ports = [PathBuf::from("/dev/ttyACM0"), PathBuf::from("/dev/serial/by-id/tractor")];
    Live::new(read_plow(&plow).unwrap(), &ports, Choice::default())
}

fn row(t_us: u64, values: [f64; 3]) -> Row {
    let mut row = Row::at(t_us);
    values.into_iter().for_each(|value| row.push(value));
    row
}

fn push(live: &Live, rows: &[Row]) {
    live.readings(&LiveRows { number: 0, columns: &COLUMNS, rows });
}

#[test]
fn what_was_never_read_and_what_is_no_number_is_nothing() {
    let live = live();
    assert_eq!(live.now().pull_n, None);
    push(&live, &[row(0, [7000.0, 20.0, 180.0]), row(5000, [f64::NAN, f64::INFINITY, 175.0])]);
    let now = live.snapshot();
    assert_eq!((now.pull_n, now.depth_mm, now.speed_mps), (Some(7000.0), Some(175.0), None));
    assert!(now.tail_load_n.unwrap() > 0.0 && !now.lifted);
    assert!(!serde_json::to_string(&now).unwrap().contains("NaN"));
}

/// Found: the word that somebody is to see for a tenth of a second stood beside the load after it.
#[test]
fn the_word_lifted_stands_beside_a_load_that_is() {
    let live = live();
    push(&live, &[row(0, [7000.0, 20.0, 180.0]), row(5000, [7000.0, 0.0, 180.0])]);
    push(&live, &[row(80_000, [7000.0, 20.0, 180.0])]);
    let (now, under) = (live.now(), live.snapshot().load.unwrap().lifted_under_n.unwrap());
    assert!(now.lifted && now.load_n.unwrap() < under, "{now:?}");
    push(&live, &[row(120_000, [7000.0, 20.0, 180.0])]);
    let now = live.now();
    assert!(!now.lifted && now.load_n.unwrap() > under, "{now:?}");
}

#[test]
fn a_run_comes_and_goes_and_its_losses_with_it() {
    let live = live();
    live.stands_by();
    let folder = PathBuf::from("/runs/2027-04-11T0914_flat");
    let share = ShareCondition::Worn;
    live.began(&BegunRun { folder, setting_name: "flat".to_owned(), share, began_us: 0 });
    let progress = Progress {
        t_s: 3.0,
        rows: 600,
        rows_lost: 8,
        marks: 2,
        boxes_away: vec![None, Some("waiting for tractor: it went away (hung up)".to_owned())],
        ..Progress::default()
    };
    live.progress(&progress);
    let now = live.snapshot();
    let run = now.run.unwrap();
    assert_eq!((run.name.as_str(), run.rows, run.marks), ("2027-04-11T0914_flat", 600, 2));
    assert_eq!(now.boxes.iter().map(|one| one.away).collect::<Vec<_>>(), [false, true]);
    let texts: Vec<_> = now.troubles.iter().map(|trouble| trouble.text.as_str()).collect();
    assert_eq!(texts, ["waiting for tractor: it went away (hung up)", "8 rows lost in this run"]);
    let since = now.troubles[0].since_s;
    live.progress(&progress);
    assert_eq!(live.snapshot().troubles[0].since_s, since, "it began when it began");
    live.ended(&Ok(RecordedRun {
        folder: "runs/2027-04-11T0914_flat".into(),
        end: RunEnd::BoxesChanged,
        lasted_s: 3.0,
        counters: Vec::new(),
        gnss: None,
    }));
    live.progress(&Progress::default());
    let now = live.snapshot();
    assert!(now.run.is_none() && now.troubles.is_empty() && now.phase == Phase::StandsBy);
    let told = &now.notices[0];
    assert!(told.text.starts_with("the run has ended: the boxes changed"), "{told:?}");
    assert_eq!(told.run.as_deref(), Some("2027-04-11T0914_flat"));
}

#[test]
fn what_the_recorder_holds_is_shown_and_a_person_confirms_it() {
    let live = live();
    let names: Vec<_> = live.plow().settings.keys().cloned().collect();
    let share = live.snapshot().choice.share;
    assert_eq!(share, Some(live.plow().bottoms.share), "what will be used is shown as chosen");
    live.set_trouble(TroubleKind::Unconfirmed, Some("which holes?".to_owned()));
    let next = PassChoice { setting_name: Some(names[1].clone()), ..PassChoice::default() };
    live.chosen(&PassChoice { assumed: true, ..next.clone() });
    assert_eq!(live.snapshot().troubles.len(), 1, "nobody has said so");
    live.chosen(&next);
    let now = live.snapshot();
    assert!(now.troubles.is_empty());
    assert_eq!(now.choice, Choice { setting: Some(names[1].clone()), share, ..Choice::default() });
    let setting = live.setting_now().unwrap();
    assert_eq!(Some(&setting), live.plow().settings.get(&names[1]));
    assert!(now.holes[1].contains(&setting.plow_hole.name), "{:?}", now.holes);
}

/// An hour at a thousand rows a second.
#[test]
fn after_an_hour_it_is_as_large_as_after_a_minute() {
    let live = live();
    let size = |live: &Live| {
        let points = live.strip(0, u64::MAX).0;
        serde_json::to_string(&points).unwrap().len() + serde_json::to_string(&live.snapshot()).unwrap().len()
    };
    let mut after_a_minute = 0;
    for second in 0..3600_u64 {
        let of = |n: u64| row((second * 1000 + n) * 1000, [7000.0, 20.0 + (n % 11) as f64, 180.0]);
        let rows: Vec<_> = (0..1000).map(of).collect();
        rows.chunks(50).for_each(|rows| push(&live, rows));
        live.progress(&Progress { t_s: second as f64, rows: second * 1000, ..Progress::default() });
        live.notice("something to know", false);
        if second == 60 {
            after_a_minute = size(&live);
        }
    }
    let after_an_hour = size(&live);
    assert!(
        after_an_hour.abs_diff(after_a_minute) < after_a_minute / 5,
        "{after_a_minute}, then {after_an_hour}"
    );
    assert!(after_an_hour < 60_000, "{after_an_hour} bytes are what a new viewer gets at most");
}
