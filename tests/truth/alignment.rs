//! Rows of two boxes against the one clock that both can be held to: that of the machine, which the virtual
//! boxes write into their truth files and the recorder never sees.
use std::fs;
use std::path::Path;

use hitchwright_tests::command::{json_of, text_of};
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::run_folder::table_of;
use hitchwright_tests::truth::read_truth;
use sample_runs::sensors::Sensor;

/// What a row's time in one box may be off against the other's, in s: the limit that is promised.
const ALIGNED_S: f64 = 0.002;
/// From this long after the first row on. Before it, the recorder knows the clocks from some pings only.
const SETTLED_S: f64 = 5.0;

/// Host time and run time of each row of a box, in s.
fn rows_of(run: &Path, file: &str, truth: &Path, sensor: Sensor) -> Vec<(f64, f64)> {
    let table = table_of(&fs::read_to_string(run.join(file)).unwrap()).unwrap();
    let truth = read_truth(truth).unwrap();
    assert_eq!(table.rows.len(), truth.rows.len(), "{file}: nothing is lost on this line");
    let column = table.columns.iter().position(|name| name == sensor.column).unwrap();
    let channel = truth.channels.iter().position(|name| name == sensor.channel).unwrap();
    let mut pairs = Vec::new();
    for (row, sampled) in table.rows.iter().zip(&truth.rows) {
        let off = row[column].value - sensor.reading(sampled.counts[channel]);
        assert!(off.abs() <= 1.001 * row[column].half_digit);
        pairs.push((sampled.host_s, row[0].value));
    }
    pairs
}

/// Run time less host time of the rows at a host time, on the straight line between two of them.
fn lead_at(rows: &[(f64, f64)], host_s: f64) -> Option<f64> {
    let after = rows.partition_point(|row| row.0 < host_s);
    let (before, after) = (rows.get(after.checked_sub(1)?)?, rows.get(after)?);
    let part = (host_s - before.0) / (after.0 - before.0);
    Some((before.1 - before.0) * (1.0 - part) + (after.1 - after.0) * part)
}

fn is_near(value: &serde_json::Value, expected: f64, within: f64) -> bool {
    value.as_f64().is_some_and(|value| (value - expected).abs() < within)
}

/// In real time, because a recorder's host is. One clock is 50 ppm fast and wraps 20 s after its power-up; the
/// other is 50 ppm slow; every frame, the answers to pings too, is late by up to 3 ms at random.
#[test]
fn two_boxes_with_clocks_apart_lie_within_2_ms_of_each_other() {
    let field = Field::new().unwrap().with_box(
        "--channels pull --name drawbar --rate-hz 200 --speed-up 1 --working-s 30 --seed 61 --jitter-ms 3 \
         --drift-ppm 50 --clock-start 4274967296",
    );
    let (_, other_truth) = field.other("rear");
    let rear = "--channels tail,depth --name rear --rate-hz 50 --rows-per-frame 2 --working-s 30 --seed 62 \
                --jitter-ms 3 --drift-ppm -50";
    let other = field.start_other("rear", rear).unwrap();
    let ports = field.ports_with(&["rear"]);
    let recorded = field.record(&ports).unwrap().to_the_end().unwrap();
    other.wait(SOON).unwrap().expect_code(0).unwrap();
    let run_folder = recorded.run().unwrap();
    let truth = fs::read_to_string(recorded.field.truth()).unwrap();
    let clocks: Vec<u32> = truth.lines().filter_map(|line| line.split(',').nth(2)?.parse().ok()).collect();
    assert!(clocks.windows(2).any(|pair| pair[1] < pair[0]), "the clock was to wrap in mid-run");

    let pull = rows_of(&run_folder, "plow.csv", &recorded.field.truth(), Sensor::PULL);
    let tail = rows_of(&run_folder, "rear.csv", &other_truth, Sensor::TAIL);
    let began_s = tail[0].0.max(pull[0].0);
    let settled = tail.iter().filter(|(host_s, _)| host_s - began_s >= SETTLED_S);
    let apart_s: Vec<f64> =
        settled.filter_map(|(host_s, run_s)| Some((run_s - host_s) - lead_at(&pull, *host_s)?)).collect();
    let largest_s = apart_s.iter().fold(0.0f64, |most, apart_s| most.max(apart_s.abs()));
    println!("rows of the two boxes at most {:.3} ms apart after {SETTLED_S} s", 1e3 * largest_s);
    assert!(apart_s.len() > 1000, "{}", apart_s.len());
    assert!(largest_s < ALIGNED_S, "rows are {largest_s} s apart");

    // The clocks as `check` shows them, and a full summary from the two.
    let report = |command: &str| json_of([command, text_of(&run_folder), "--json"]);
    let checked = report("check").unwrap();
    for (place, drift_ppm) in [(0, 50.0), (1, -50.0)] {
        let clock = &checked["tables"][place]["sensor_box"]["clock"];
        println!("clock of {}: {clock}", checked["tables"][place]["file"]);
        // 40 s of pings that are a millisecond or so unsure know a rate to some ppm.
        assert!(is_near(&clock["drift_ppm"], drift_ppm, 40.0), "{clock}");
        assert!(is_near(&clock["residual_ms"], 0.75, 0.75), "{clock}");
        assert_eq!(clock["run_time"], "host");
    }
    // The first row's clock, taken back by its run time, is what the clock stood at when the run began.
    let at_start_s = f64::from(clocks[0]) / 1e6 - pull[0].1;
    let offset_s = &checked["tables"][0]["sensor_box"]["clock"]["box_at_start_s"];
    assert!(is_near(offset_s, at_start_s, 0.005), "{offset_s}, not {at_start_s}");
    let summary = report("summary").unwrap();
    assert!(is_near(&summary["quality"]["rate_hz"], 50.0, 0.1), "{}", summary["quality"]);
    assert_eq!(summary["quality"]["gaps"], 0);
    for figure in ["/pull/mean_n", "/depth/mean_mm", "/tail_load/mean_n", "/statics/balance_index"] {
        assert!(summary.pointer(figure).is_some_and(|f| f["low"].is_f64()), "{figure}: {summary}");
    }
}
