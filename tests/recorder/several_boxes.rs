//! Runs of several boxes, from the ports to the summary.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use hitchwright_tests::Outcome;
use hitchwright_tests::command::{assert_has, hitchwright, json_of, stdout_of, text_of};
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::pdf::pages_of;
use hitchwright_tests::receiver::start_receiver;
use hitchwright_tests::verify::verify_box;
use sample_runs::sensors::Sensor;
use serde_json::Value;

const PULL_BOX: &str = "--channels pull --name drawbar --rate-hz 400 --speed-up 20 --working-s 40 --seed 71";
const REAR_BOX: &str =
    "--channels tail,depth --name rear --rate-hz 100 --speed-up 20 --working-s 40 --seed 72";
const FRONT_BOX: &str = "--channels front-load --name front --rate-hz 50 --speed-up 20 --working-s 40 --seed 73 --unplug-at 20 --unplug-for 4";

fn report(command: &str, run: &Path) -> Outcome<Value> {
    json_of([command, text_of(run), "--json"])
}

fn notices<'a>(summary: &'a Value, kind: &str) -> Vec<&'a Value> {
    let all = summary["quality"]["notices"].as_array().into_iter().flatten();
    all.filter(|notice| notice["kind"] == kind).collect()
}

/// Pull on one box, tail wheel and depth on another: all figures are there, and they are those of the pass. A
/// third box that is gone for a while takes nothing from them.
#[test]
fn pull_on_one_box_and_tail_on_another_make_a_full_summary() -> Outcome<()> {
    let sensors = [Sensor::PULL, Sensor::TAIL, Sensor::DEPTH, Sensor::FRONT_LOAD];
    let field = Field::new()?.with_sensors(&sensors)?.with_box(PULL_BOX);
    let [rear_truth, front_truth] = ["rear", "front"].map(|name| field.other(name).1);
    let others = [field.start_other("rear", REAR_BOX)?, field.start_other("front", FRONT_BOX)?];
    let ports = field.ports_with(&["rear", "front"]);
    let recorded = field.record(&ports)?.to_the_end()?;
    for other in others {
        other.wait(SOON)?.expect_code(0)?;
    }
    let run = recorded.run()?;
    assert_eq!(recorded.verify()?.rows_lost, 0);
    assert_eq!(verify_box(&run, "rear", &rear_truth)?.rows_lost, 0);
    assert!(verify_box(&run, "front", &front_truth)?.rows_lost > 0);

    // Boxes 20 times as fast as the computer's clock each go by their own clock, and are not joined.
    let sentence = hitchwright(["summary", text_of(&run)], 1)?.stderr;
    assert!(sentence.contains("pull_n comes from box drawbar, whose clock runs apart"), "{sentence}");
    // These two boxes are in fact equally fast: the rest of this test takes them so.
    let description = run.join("run.toml");
    let recorded_toml = fs::read_to_string(&description).unwrap();
    fs::write(&description, recorded_toml.replace("\"box-alone\"", "\"host\"")).unwrap();
    let summary = report("summary", &run)?;
    assert_eq!(summary["quality"]["gaps"], 0, "{}", summary["quality"]);
    let rate_hz = summary["quality"]["rate_hz"].as_f64().unwrap();
    assert!((rate_hz - 100.0).abs() < 1.0, "{rate_hz}");
    for figure in ["/pull/p95_n", "/depth/sd_mm", "/tail_load/lifted_share", "/statics/balance_index"] {
        assert!(summary.pointer(figure).is_some_and(|f| f["low"].is_f64()), "{figure}: {summary}");
    }
    // The mean pull of its box's own rows over the working part, which were held against the truth above.
    let (from_s, to_s) = (
        summary["working_part"]["from_s"].as_f64().unwrap(),
        summary["working_part"]["to_s"].as_f64().unwrap(),
    );
    let text = fs::read_to_string(run.join("plow.csv")).unwrap();
    let rows = text.lines().skip(1).filter_map(|line| line.split_once(','));
    let pulls: Vec<f64> = rows
        .filter_map(|(t, pull)| Some((t.parse::<f64>().ok()?, pull.parse::<f64>().ok()?)))
        .filter(|(t, _)| (from_s..=to_s).contains(t))
        .map(|(_, pull)| pull)
        .collect();
    let mean = pulls.iter().sum::<f64>() / pulls.len() as f64;
    let told = summary["pull"]["mean_n"]["value"].as_f64().unwrap();
    assert!((told / mean - 1.0).abs() < 1e-3, "{told} N, not {mean} N");
    let missing = notices(&summary, "channel_missing");
    assert!(missing.iter().any(|one| one["channel"] == "front-load"), "{missing:?}");

    fs::write(&description, recorded_toml).unwrap();
    let checked = report("check", &run)?;
    assert_eq!(checked["rebuilds"], true);
    let files: Vec<_> = checked["tables"].as_array().unwrap().iter().map(|table| &table["file"]).collect();
    assert_eq!(files, ["plow.csv", "rear.csv", "front.csv"]);
    let text = stdout_of(["check", text_of(&run)])?;
    assert_has(&text, &["box rear", "box drawbar", "runs apart from the computer's", "reconnects"]);
    // Without its raw bytes a run is checked all the same, and it is said what that cannot show.
    fs::remove_file(run.join("rear.wire")).unwrap();
    let text = stdout_of(["check", text_of(&run)])?;
    assert!(text.contains("rear.wire: there is no such file: without the raw bytes"), "{text}");
    assert_eq!(report("check", &run)?["rebuilds"], Value::Null);
    Ok(())
}

/// Twice the same box, by name, serial number and channels: each has its own file, and of each column the
/// first is used, with a notice.
#[test]
fn boxes_of_one_name_are_kept_apart() -> Outcome<()> {
    const TWIN: &str = "--name twin --serial VB-0009 --rate-hz 100 --speed-up 20 --working-s 20";
    let field = Field::new()?.with_box(&format!("{TWIN} --seed 74"));
    let [truth, third_truth] = ["second", "third"].map(|name| field.other(name).1);
    let second = field.start_other("second", &format!("{TWIN} --seed 75"))?;
    let third = field.start_other("third", &format!("{TWIN} --seed 76"))?;
    let ports = field.ports_with(&["second", "third"]);
    let recorded = field.record(&ports)?.to_the_end()?;
    second.wait(SOON)?.expect_code(0)?;
    third.wait(SOON)?.expect_code(0)?;
    let alike = recorded.ended.stderr.matches("same name or serial number").count();
    assert_eq!(alike, 2, "{}", recorded.ended.stderr);
    let run = recorded.run()?;
    recorded.verify()?;
    verify_box(&run, "twin", &truth)?;
    verify_box(&run, "twin-2", &third_truth)?;
    let texts: BTreeMap<&str, String> = ["plow.csv", "twin.csv", "twin-2.csv"]
        .map(|name| (name, fs::read_to_string(run.join(name)).unwrap()))
        .into();
    assert!(texts["plow.csv"] != texts["twin.csv"] && texts["twin.csv"] != texts["twin-2.csv"]);
    let summary = report("summary", &run)?;
    let doubled = notices(&summary, "doubled");
    let ends = |path: &Value, name: &str| path.as_str().is_some_and(|path| path.ends_with(name));
    for name in ["/twin.csv", "/twin-2.csv"] {
        let of_pull = |one: &&&Value| {
            one["channel"] == "pull" && ends(&one["path"], name) && ends(&one["used"], "/plow.csv")
        };
        assert_eq!(doubled.iter().filter(of_pull).count(), 1, "{name}: {doubled:?}");
    }
    Ok(())
}

/// A receiver beside the box, in real time, its fix gone for 4 s of the pass: speed and way are those driven, what is
/// missing is told, and the spectra stand against distance.
#[test]
fn a_receiver_gives_speed_way_and_spectra_against_distance() -> Outcome<()> {
    const SPEED_MPS: f64 = 1.6;
    let field = Field::new()?.with_box("--speed-up 1 --working-s 28 --rate-hz 100 --seed 77");
    let receiver =
        start_receiver(&field, "--rate-hz 5 --speed-mps 1.6 --no-fix-at 18 --no-fix-for 4 --lasts-s 60")?;
    let gnss = format!("--gnss {}", field.path("gnss").display());
    let recorded = field.record(&gnss)?.to_the_end()?;
    drop(receiver);
    let run = recorded.run()?;
    let summary = report("summary", &run)?;
    let figure = |pointer: &str| {
        summary.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer}: {summary}"))
    };
    assert_eq!(summary["travel"]["speed_from"], "gnss.csv");
    let missing_s = figure("/travel/missing_s");
    assert!((3.8..4.6).contains(&missing_s), "{missing_s}");
    let lasted_s = figure("/working_part/to_s") - figure("/working_part/from_s");
    let distance_m = SPEED_MPS * (lasted_s - missing_s);
    assert!(
        (figure("/travel/distance_m") / distance_m - 1.0).abs() < 0.01,
        "{} not {distance_m}",
        summary["travel"]
    );
    // The receiver's places are of the same straight furrow as its speed.
    let ways = figure("/travel/places_m") / figure("/travel/between_places_m");
    assert!((ways - 1.0).abs() < 0.01, "{}", summary["travel"]);
    assert!((figure("/travel/mean_mps/value") - SPEED_MPS).abs() < 0.02, "{}", summary["travel"]);
    // Rows at 100 Hz lie 16 mm apart.
    assert!((figure("/per_metre/step_m") - 0.032).abs() < 0.001, "{}", summary["per_metre"]["step_m"]);
    let densities = summary["per_metre"]["depth_mm2_m"]["density"].as_array().unwrap();
    assert!(densities.len() > 20 && densities.iter().all(|density| density.as_f64().is_some()));
    let missing = notices(&summary, "speed_missing");
    let about_4_s = |one: &&Value| one["missing_s"].as_f64().is_some_and(|s| (3.95..5.0).contains(&s));
    assert!(missing.iter().any(about_4_s), "{missing:?}");
    let text = stdout_of(["summary", text_of(&run), "--units", "us"])?;
    assert_has(&text, &["speed by the GNSS receiver", "distance along the pass", "mph"]);
    // Three rows more in the table of figures, and still one page on either paper.
    for paper in ["a4", "letter"] {
        let page = recorded.field.path(&format!("{paper}.pdf"));
        hitchwright(["summary", text_of(&run), "--paper", paper, "-o", text_of(&page)], 0)?;
        assert_eq!(pages_of(&page)?, 1, "{paper}");
    }
    let checked = report("check", &run)?;
    assert_eq!(checked["rebuilds"], true);
    assert!(checked["gnss"]["fixes"].as_u64().is_some_and(|fixes| fixes > 100), "{}", checked["gnss"]);
    assert_eq!(checked["gnss"]["receiver"]["counters"]["no_fix_periods"], 1);
    let text = stdout_of(["check", text_of(&run)])?;
    assert!(text.contains("gnss.csv: ") && text.contains("epochs without fix (periods: 1)"), "{text}");
    Ok(())
}
