//! The `hitchwright` command on runs that were recorded from a virtual box through a real port.
use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::LazyLock;

use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::{LONG, hitchwright, json_of, sample, stdout_of, text_of};
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::pdf::pages_of;
use hitchwright_tests::process::Running;
use hitchwright_tests::run_folder::{run_in, runs_in};
use hitchwright_tests::snapshot::{Snapshot, snapshot};
use hitchwright_tests::verify::verify;
use serde_json::Value;

/// Name and files of a run of 40 s at work, recorded and verified once.
static RECORDED: LazyLock<(OsString, Snapshot)> = LazyLock::new(|| {
    let field = Field::new().unwrap().with_box("--working-s 40 --speed-up 30 --seed 41");
    let recorded = field.record("").unwrap().to_the_end().unwrap();
    recorded.verify().unwrap();
    let run = recorded.run().unwrap();
    (run.file_name().unwrap().to_owned(), snapshot(&run).unwrap())
});

/// A copy of that run in a field of its own.
fn recorded() -> (Field, PathBuf) {
    let (name, files) = &*RECORDED;
    let field = Field::new().unwrap();
    let run = field.runs().join(name);
    fs::create_dir(&run).unwrap();
    for (path, file) in files {
        fs::write(run.join(path.file_name().unwrap()), &file.as_ref().unwrap().1).unwrap();
    }
    (field, run)
}

fn at<'a>(json: &'a Value, dotted: &str) -> &'a Value {
    let step = |value: &'a Value, key: &str| {
        value.get(key).unwrap_or_else(|| panic!("{dotted}: no key {key:?} in {value}"))
    };
    dotted.split('.').fold(json, step)
}

/// Demands a value within its 95 % interval, all of them numbers.
fn assert_figure(json: &Value, dotted: &str) {
    let figure = at(json, dotted);
    let [low, value, high] = ["low", "value", "high"].map(|key| at(figure, key).as_f64());
    let (Some(low), Some(value), Some(high)) = (low, value, high) else { panic!("{dotted}: {figure}") };
    assert!(low <= value && value <= high, "{dotted}: {figure}");
}

/// Figures that the report must have, each with its interval.
const FIGURES: [(&str, &[&str]); 8] = [
    ("pull", &["mean_n", "sd_n", "p5_n", "p95_n"]),
    ("depth", &["mean_mm", "sd_mm", "variance_mm2", "p5_mm", "p95_mm", "drift_mm_per_min"]),
    ("tail_load", &["mean_n", "sd_n", "cv", "lifted_share", "longest_lift_s"]),
    ("bobbing", &["frequency_hz", "rms_n"]),
    ("pull_to_tail", &["gain_n_per_n", "coherence"]),
    ("statics", &["soil_slope", "pull_line_offset_mm", "balance_index", "wheel_load_at_m"]),
    ("statics", &["tail_share", "front_load_n", "expected_gain_n_per_n"]),
    ("draft", &["draft_n", "specific_draft_n_per_cm2"]),
];

#[test]
fn a_summary_has_every_figure_and_prints_its_page() {
    let (field, run) = recorded();
    let before = snapshot(&run).unwrap();
    let json = json_of(["summary", text_of(&run), "--json"]).unwrap();
    for (part, figures) in FIGURES {
        figures.iter().for_each(|figure| assert_figure(&json, &format!("{part}.{figure}")));
    }
    let (from_s, to_s) = (at(&json, "working_part.from_s").as_f64(), at(&json, "working_part.to_s").as_f64());
    // 40 s at work, trimmed by 2 s at both ends; going in and coming out take the plow some seconds more.
    let lasts_s = to_s.unwrap() - from_s.unwrap();
    assert!((33.0..42.0).contains(&lasts_s), "{lasts_s}");
    assert!((at(&json, "quality.rate_hz").as_f64().unwrap() - 200.0).abs() < 0.01);
    assert_eq!(at(&json, "quality.gaps"), 0);
    assert_eq!(at(&json, "quality.missing_share"), 0.0);
    let readings = at(&json, "quality.readings").as_f64().unwrap();
    assert!((readings - 200.0 * lasts_s).abs() <= 2.0, "{readings} readings in {lasts_s} s");
    let coherence = at(&json, "pull_to_tail.coherence");
    let ends = ["low", "high"].map(|end| at(coherence, end).as_f64().unwrap());
    assert!(ends.iter().all(|end| (0.0..=1.0).contains(end)), "{coherence}");
    at(&json, "bobbing.damping_ratio");
    assert!(!at(&json, "verdict.reasons").as_array().unwrap().is_empty());
    assert!(at(&json, "verdict.rests_on").is_array(), "{}", at(&json, "verdict"));
    assert!(at(&json, "verdict.class").is_string() && at(&json, "advice").is_array());
    assert!(at(&json, "causes.ranked").as_array().unwrap().len() >= 9, "{}", at(&json, "causes"));
    assert_eq!(at(&json, "causes.order_of_work")[0], "shares");

    // The units are those of the words; the figures of the JSON stay SI.
    let us = json_of(["summary", text_of(&run), "--json", "--units", "us"]).unwrap();
    assert_eq!(at(&us, "pull"), at(&json, "pull"));
    let si = stdout_of(["summary", text_of(&run)]).unwrap();
    let us = stdout_of(["summary", text_of(&run), "--units", "us"]).unwrap();
    let has = |text: &str, unit: &str| text.split_whitespace().any(|word| word == unit);
    assert!(has(&si, "mm") && !has(&si, "lbf"), "{si}");
    assert!(has(&us, "lbf") && !has(&us, "mm"), "{us}");
    for text in [&si, &us] {
        assert!(!["NaN", "inf", "-0.0"].iter().any(|odd| has(text, odd)), "{text}");
    }

    for (paper, media_box) in [("a4", "595"), ("letter", "612 792")] {
        let pdf = field.path(&format!("{paper}.pdf"));
        hitchwright(["summary", text_of(&run), "-o", text_of(&pdf), "--paper", paper], 0).unwrap();
        assert_eq!(pages_of(&pdf).unwrap(), 1);
        let text = String::from_utf8_lossy(&fs::read(&pdf).unwrap()).into_owned();
        let media = text.split("/MediaBox").nth(1).unwrap_or_default();
        assert!(media.chars().take(40).collect::<String>().contains(media_box), "{paper}");
    }
    let png = field.path("page.png");
    hitchwright(["summary", text_of(&run), "-o", text_of(&png)], 0).unwrap();
    assert!(fs::read(&png).unwrap().starts_with(b"\x89PNG\r\n\x1a\n"));
    assert_eq!(snapshot(&run).unwrap(), before, "a summary must not change the run");
}

#[test]
fn a_reader_who_has_seen_enough_is_no_error() {
    let (field, run) = recorded();
    for arguments in
        [&["summary", text_of(&run)][..], &["check", text_of(&run)], &["statics", text_of(&field.plow())]]
    {
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let ended = Command::new(Program::Hitchwright.path().unwrap())
            .args(arguments)
            .stdin(Stdio::null())
            .stdout(writer)
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&ended.stderr);
        assert_eq!(ended.status.code(), Some(0), "{arguments:?}: {said}");
        assert!(!said.contains("panicked") && !said.to_lowercase().contains("pipe"), "{arguments:?}: {said}");
    }
}

/// The rows of a run as another logger might have written them: semicolons, decimal commas, other units and
/// names, another order, a column that nobody asked for.
fn as_another_logger(csv: &str) -> String {
    let mut text = String::from("\u{feff}Depth;No.;Clock;Force;Spring\r\n");
    for (number, line) in csv.lines().skip(1).enumerate() {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        let [t_s, pull_n, tail_mm, depth_mm] = cells[..] else { panic!("{line}") };
        let (ms, kn) = (t_s * 1e3 + 5e6, pull_n / 1e3);
        let (depth_in, tail_in) = (depth_mm / 25.4, tail_mm / 25.4);
        let row = format!("{depth_in:.9};{number};{ms:.4};{kn:.9};{tail_in:.9}\r\n");
        text += &row.replace('.', ",");
    }
    text
}

#[test]
fn another_loggers_file_gives_the_same_readings() {
    let (field, run) = recorded();
    let csv = fs::read_to_string(run.join("plow.csv")).unwrap();
    let (file, out, plow) = (field.path("logger.csv"), field.path("imported"), field.plow());
    fs::write(&file, as_another_logger(&csv)).unwrap();
    fs::create_dir(&out).unwrap();
    let mut arguments = vec!["import", text_of(&file), "--plow", text_of(&plow), "--setting", "as-found"];
    arguments.extend(["--soil-class", "fine", "--started", "2027-04-11T09:14", "--out", text_of(&out)]);
    arguments.extend(["--separator", ";", "--decimal-comma"]);
    for column in ["t_s=Clock:ms", "pull_n=Force:kN", "tail_mm=Spring:in", "depth_mm=Depth:in"] {
        arguments.extend(["--column", column]);
    }
    hitchwright(&arguments, 0).unwrap();
    let imported = out.join("2027-04-11T0914_as-found");
    assert_eq!(runs_in(&out).unwrap(), std::slice::from_ref(&imported));
    let described = fs::read_to_string(imported.join("run.toml")).unwrap();
    assert!(described.contains("soil_class = \"fine\""), "{described}");
    let imported_csv = fs::read_to_string(imported.join("plow.csv")).unwrap();
    let differs = imported_csv.lines().zip(csv.lines()).find(|(a, b)| a != b);
    assert_eq!((differs, imported_csv.lines().count()), (None, csv.lines().count()));

    let figures = |run: &Path| json_of(["summary", text_of(run), "--json"]);
    let (first, second) = (figures(&run).unwrap(), figures(&imported).unwrap());
    // Readings that came calibrated leave open less of the depth than those of a calibration that is known.
    let of_depth = ["depth.mean_mm.value", "depth.p5_mm.value", "depth.sd_mm"];
    let of_load = ["tail_load.mean_n.value", "tail_load.sd_n"];
    let same = ["working_part", "pull", "bobbing", "pull_to_tail", "statics", "verdict"];
    for part in same.into_iter().chain(of_depth).chain(of_load) {
        assert_eq!(at(&first, part), at(&second, part), "{part}");
    }
    let said = stdout_of(["check", text_of(&imported)]).unwrap();
    assert!(said.contains("no raw bytes"), "{said}");
    // Once more: only who asks for it gets a second folder, never the first again.
    hitchwright(&arguments, 1).unwrap();
    assert_eq!(runs_in(&out).unwrap().len(), 1);
    hitchwright(arguments.iter().chain(&["--again"]), 0).unwrap();
    assert_eq!(runs_in(&out).unwrap().len(), 2);
}

#[test]
fn a_check_rebuilds_a_run_and_sees_a_changed_table() {
    let (field, run) = recorded();
    let said = stdout_of(["check", text_of(&run)]).unwrap();
    assert!(said.contains("ended properly") && said.contains("byte for byte"), "{said}");
    assert_eq!(at(&json_of(["check", text_of(&run), "--json"]).unwrap(), "rebuilds"), true);
    let rebuilt = field.path("rebuilt");
    hitchwright(["check", text_of(&run), "--rebuild-into", text_of(&rebuilt)], 0).unwrap();
    let (of_run, of_rebuilt) = (snapshot(&run).unwrap(), snapshot(&rebuilt).unwrap());
    let beyond = |folder: &Path, path: &PathBuf| path.strip_prefix(folder).unwrap().to_owned();
    assert!(of_run.len() >= 5);
    assert!(of_run.keys().map(|path| beyond(&run, path)).eq(of_rebuilt.keys().map(|p| beyond(&rebuilt, p))));
    for name in ["plow.csv", "events.csv", "plow.wire", "datapackage.json"] {
        assert_eq!(of_run[&run.join(name)], of_rebuilt[&rebuilt.join(name)], "{name}");
    }
    // A folder that is there is not written into.
    let ended = hitchwright(["check", text_of(&run), "--rebuild-into", text_of(&rebuilt)], 1).unwrap();
    assert!(ended.stderr.contains(text_of(&rebuilt)), "{}", ended.stderr);
    assert_eq!(snapshot(&rebuilt).unwrap(), of_rebuilt);

    let csv = rebuilt.join("plow.csv");
    let text = fs::read_to_string(&csv).unwrap();
    let line = text.lines().nth(1000).unwrap();
    let digit = if line.ends_with('7') { "3" } else { "7" };
    let changed = text.replacen(line, &format!("{}{digit}", &line[..line.len() - 1]), 1);
    assert_ne!(changed, text);
    fs::write(&csv, changed).unwrap();
    let ended = hitchwright(["check", text_of(&rebuilt)], 1).unwrap();
    assert!(ended.stdout.contains(text_of(&csv)) && ended.stdout.contains("NOT"), "{}", ended.stdout);
    // From its wire file it can be had again.
    let third = field.path("third");
    hitchwright(["check", text_of(&rebuilt), "--rebuild-into", text_of(&third)], 0).unwrap();
    assert_eq!(fs::read_to_string(third.join("plow.csv")).unwrap(), text);
}

#[test]
fn record_is_the_recorder() {
    let field = Field::new().unwrap().with_box("--seed 42");
    let sensor_box = field.start_box().unwrap();
    let mut args = vec![OsString::from("record")];
    args.extend(field.recorder_args("--stop-when-gone 1s"));
    let ended = hitchwright(args, 0).unwrap();
    assert!(ended.stderr.contains("Nobody rides"), "the cautions come before: {}", ended.stderr);
    sensor_box.wait(SOON).unwrap().expect_code(0).unwrap();
    let run = run_in(&field.runs()).unwrap();
    let verified = verify(&run, &field.truth()).unwrap();
    assert_eq!(verified.rows_written, verified.rows_sampled);
}

#[test]
fn the_demo_does_the_whole_job_once() {
    let field = Field::new().unwrap();
    let demo = || {
        let mut command = Command::new(Program::Hitchwright.path().unwrap());
        // It runs where it stands, as a newcomer's does.
        command.args(["demo", "--passes", "3"]).current_dir(field.runs());
        Running::spawn("hitchwright", command, Stdio::null()).unwrap().wait(LONG).unwrap()
    };
    let first = demo().expect_code(0).unwrap();
    let after = |mark| first.stdout.lines().filter_map(move |line| line.strip_prefix(mark));
    let pages: Vec<PathBuf> = after("page: ").map(|page| field.runs().join(page)).collect();
    assert_eq!(pages.len(), 3, "{}", first.stdout);
    for page in &pages {
        assert_eq!(pages_of(page).unwrap(), 1, "{}", page.display());
    }
    assert!(first.stderr.contains("invented") && first.stderr.contains("Nobody rides"), "{}", first.stderr);

    let runs = runs_in(&field.runs().join(after("runs: ").next().unwrap())).unwrap();
    let of = |setting: &str| -> Vec<&str> {
        runs.iter().map(|run| text_of(run)).filter(|run| run.contains(&format!("_{setting}"))).collect()
    };
    let (flat, middle) = (of("flat"), of("middle"));
    assert_eq!((flat.len(), middle.len(), runs.len()), (3, 3, 6));
    for run in &runs {
        let id = run.file_name().unwrap().to_str().unwrap();
        let verdict = first.stdout.lines().find(|line| line.starts_with(id)).unwrap();
        // By what the virtual plow is made for, each setting's verdict must not be of the other kind.
        let wrong = if id.contains("flat") { "balanced" } else { "too flat" };
        assert!(!verdict.contains(wrong), "{verdict}");
    }

    let before = snapshot(&field.runs()).unwrap();
    let second = demo().expect_code(1).unwrap();
    assert_eq!((second.stdout.as_str(), second.stderr.lines().count()), ("", 1), "{}", second.stderr);
    assert!(second.stderr.contains("there already"), "{}", second.stderr);
    assert_eq!(snapshot(&field.runs()).unwrap(), before);

    let args = [&["compare"], &flat[..], &["--against"], &middle[..], &["--json"]].concat();
    comparison_is_whole(&json_of(&args).unwrap());
}

/// A comparison of two settings by three runs of each.
fn comparison_is_whole(json: &Value) {
    assert_eq!((at(json, "setting_a"), at(json, "setting_b")), (&"flat".into(), &"middle".into()));
    let figures = at(json, "figures").as_array().unwrap();
    let names: Vec<_> = figures.iter().filter_map(|figure| at(figure, "figure").as_str()).collect();
    for name in
        ["balance_index", "lifted_share", "depth_sd_mm", "tail_mean_n", "bobbing_rms_n", "pull_mean_n"]
    {
        assert!(names.contains(&name), "{name} is not in {names:?}");
    }
    // SD over a mean that may be 0 is no figure: where a run has none, that is said.
    let warnings = at(json, "warnings").as_array().unwrap();
    let left_out = |warning: &Value| warning["kind"] == "left_out" && warning["figure"] == "tail_cv";
    assert!(names.contains(&"tail_cv") || warnings.iter().any(left_out), "{warnings:?}");
    for figure in figures {
        assert_figure(figure, "difference");
        let (a, b) = (at(figure, "mean_a").as_f64().unwrap(), at(figure, "mean_b").as_f64().unwrap());
        let difference = at(figure, "difference.value").as_f64().unwrap();
        assert!((difference - (a - b)).abs() <= 1e-9 * a.abs().max(b.abs()), "{figure}");
        // No spread within either setting leaves nothing to test against.
        for key in ["p_welch", "p_permutation", "p_holm"] {
            let p = at(figure, key);
            assert!(p.is_null() || p.as_f64().is_some_and(|p| (0.0..=1.0).contains(&p)), "{key}: {figure}");
        }
        if !at(figure, "effect_size").is_null() {
            assert_figure(figure, "effect_size");
        }
        at(figure, "conclusion.class");
    }
    // The virtual plow's tail wheel carries several times as much in the middle setting, whatever the field.
    let tail = figures.iter().find(|figure| at(figure, "figure") == "tail_mean_n").unwrap();
    assert!(at(tail, "p_welch").as_f64().is_some_and(|p| p < 0.01), "{tail}");
    assert_figure(tail, "effect_size");
    assert!(at(tail, "difference.high").as_f64().unwrap() < 0.0, "{tail}");
}

/// The draft of the stored balanced run is about 6.4 N/cm²: usual for medium soil, too much for coarse.
#[test]
fn the_soil_class_of_a_summary_decides_what_is_said_of_the_draft() {
    let run = sample("runs/too-flat");
    let before = snapshot(&run).unwrap();
    let open = stdout_of(["summary", text_of(&run)]).unwrap();
    assert!(open.contains("state the class with --soil-class"), "{open}");
    let coarse = json_of(["summary", text_of(&run), "--soil-class", "coarse", "--json"]).unwrap();
    assert_eq!(at(&coarse, "draft.soil_class"), "coarse");
    assert_eq!(at(&coarse, "draft.standard").as_array().unwrap().len(), 3);
    let us = stdout_of(["summary", text_of(&run), "--soil-class", "medium", "--units", "us"]).unwrap();
    assert!(us.contains("within what is published for medium soil") && us.contains("psi"), "{us}");
    assert!(us.contains("hitch too flat: SHOWN") && us.contains("Order of work: shares, landside"), "{us}");
    assert_eq!(snapshot(&run).unwrap(), before, "a summary changes nothing in the run");
    let refused = hitchwright(["summary", text_of(&run), "--soil-class", "clay"], 2).unwrap();
    assert!(refused.stderr.contains("fine, medium or coarse"), "{}", refused.stderr);
}
