//! One recording with many passes becomes many runs: `import` of a logger's CSV, and `passes` of a recording; each run
//! is told what its pass alone is told.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use crate::afternoon::{Afternoon, Headland, IN_S, OUT_S, csv, recording};
use crate::{Scratch, sample_arg};
use hitchwright_tests::command::{assert_has, hitchwright, json_of, text_of};
use hitchwright_tests::process::Ended;
use hitchwright_tests::run_folder::{run_in, runs_in};
use hitchwright_tests::snapshot::snapshot;
use serde_json::Value;

/// Ten passes, soft ones beside hard ones, and every kind of headland.
fn ten_passes() -> Afternoon {
    use Headland::{Carried, Dragged, LetDown, Stood};
    Afternoon::default()
        .then(Stood(10.0))
        .pass("balanced", 1.0)
        .then(Dragged)
        .pass("too-flat", 0.45)
        .then(Carried(40.0))
        .pass("too-steep", 1.3)
        .then(LetDown(1.0))
        .pass("worn-shares", 1.0)
        .then(LetDown(6.0))
        .pass("balanced", 1.0)
        .then(Stood(120.0))
        .pass("too-flat", 1.0)
        .then(Carried(8.0))
        .pass("balanced", 0.4)
        .then(Dragged)
        .pass("worn-shares", 1.0)
        .then(LetDown(5.0))
        .pass("balanced", 1.0)
        .then(Carried(33.0))
        .pass("too-flat", 1.2)
        .then(Dragged)
}

/// Those of the ten that were driven in the setting that their runs name, of which the balance can be judged.
const SOUND: [usize; 5] = [0, 3, 4, 7, 8];

/// Imports a file, and demands this exit status.
fn import(scratch: &Scratch, file: &str, out: &str, code: i32) -> Ended {
    let plow = sample_arg("plows/two-bottom.toml");
    let mut words =
        vec!["import", file, "--plow", &plow, "--setting", "middle", "--started", "2027-04-11T13:00"];
    for column in ["t_s=Time:s", "pull_n=Pull:N", "tail_mm=Tail:mm", "depth_mm=Depth:mm"] {
        words.extend(["--column", column]);
    }
    let out = scratch.path(out);
    hitchwright([&words[..], &["--out", &out]].concat(), code).unwrap()
}

/// The runs in the order of their passes.
fn in_order(out: &str) -> Vec<PathBuf> {
    let mut runs = runs_in(Path::new(out)).unwrap();
    runs.sort_by_key(|run| {
        let name = text_of(run).rsplit_once("_pass-").unwrap_or_else(|| panic!("{}", run.display())).1;
        name.parse::<u32>().unwrap()
    });
    runs
}

/// A JSON value as its numbers and words, by their places.
fn leaves(value: &Value, place: &str, into: &mut BTreeMap<String, Value>) {
    match value {
        Value::Object(map) => {
            map.iter().for_each(|(key, value)| leaves(value, &format!("{place}.{key}"), into))
        }
        Value::Array(all) => {
            all.iter().enumerate().for_each(|(i, value)| leaves(value, &format!("{place}.{i}"), into));
        }
        leaf => drop(into.insert(place.to_owned(), leaf.clone())),
    }
}

/// Demands that the summary of a cut pass is that of the pass alone: the same samples give the same figures, verdict and
/// advice. Other are the run's name and times, what is measured beside the pass and stands `beside` it, and in the last
/// digits the fit of the bobbing: it stops where rounding of the rows' times leads it, and its intervals are drawn from there.
fn tell_the_same(pass: usize, cut: &Path, alone: &Path, beside: &[&str]) {
    let summary = |run: &Path| {
        let mut all = BTreeMap::new();
        leaves(&json_of(["summary", text_of(run), "--json"]).unwrap(), "", &mut all);
        all
    };
    let (one, other) = (summary(cut), summary(alone));
    let balance = SOUND.contains(&pass).then_some("statics.balance_index.value");
    for part in
        ["depth.variance_mm2", "tail_load.mean_n", "verdict.class", "advice.0"].into_iter().chain(balance)
    {
        let has = one.iter().any(|(place, value)| place.starts_with(&format!(".{part}")) && !value.is_null());
        assert!(has, "pass {pass}: {part} is not in {one:#?}");
    }
    let same = |place: &str, a: &Value, b: &Value| match (a.as_f64(), b.as_f64()) {
        (Some(a), Some(b)) => {
            let share = match place {
                _ if ![".bobbing", ".load_spectrum"].iter().any(|of| place.starts_with(of)) => 1e-6,
                _ if place.ends_with(".value") => 0.01,
                _ => 0.15,
            };
            (a - b).abs() <= share * a.abs().max(b.abs()).max(1e-9)
        }
        _ => a == b,
    };
    let own = [
        ".run.ended",
        ".run.id",
        ".run.started",
        ".run.lasted_s",
        ".working_part.from_s",
        ".working_part.to_s",
        // Weak peaks and modes beside the bobbing, which is compared itself, hang on the last digits of the time base.
        ".load_spectrum.peaks",
        ".load_spectrum.fit",
    ];
    for place in one.keys().chain(other.keys()).collect::<BTreeSet<_>>() {
        let [a, b] = [&one, &other].map(|all| all.get(place).unwrap_or(&Value::Null));
        let may_differ = own.iter().chain(beside).any(|known| place.contains(known));
        assert!(may_differ || same(place, a, b), "{place} of {}: {a}, alone {b}", cut.display());
    }
    // The same stretch of the pass, wherever the run begins.
    let lasts_s = |all: &BTreeMap<String, Value>| {
        let at = |end: &str| all[&format!(".working_part.{end}_s")].as_f64().unwrap();
        at("to") - at("from")
    };
    assert!((lasts_s(&one) - lasts_s(&other)).abs() < 1e-5, "{}", cut.display());
}

#[test]
fn an_afternoon_of_another_logger_becomes_a_run_a_pass() {
    let (scratch, afternoon) = (Scratch::new(), ten_passes());
    let file = scratch.write("afternoon.csv", &csv(&afternoon.rows));
    let ended = import(&scratch, &file, "runs", 0);
    let out = scratch.path("runs");
    let runs = in_order(&out);
    assert_eq!(runs.len(), 10, "{}", ended.stderr);
    assert!(ended.stdout.is_empty());
    assert_has(&ended.stderr, &["10 passes", "headlands left out", "2 more"]);
    for (k, run) in runs.iter().enumerate() {
        let begins_s = afternoon.pass_s(k) + IN_S - 5.0;
        let minute = (begins_s / 60.0) as u32;
        let near = (begins_s + 0.5).rem_euclid(60.0);
        assert!((1.0..60.0).contains(&near), "pass {k} begins too near to a full minute to name it");
        let name = format!("2027-04-11T{:02}{:02}_middle_pass-{}", 13 + minute / 60, minute % 60, k + 1);
        assert_eq!(run.file_name().unwrap().to_str(), Some(name.as_str()));
        assert_has(&ended.stderr, &[text_of(run)]);
        let text = fs::read_to_string(run.join("plow.csv")).unwrap();
        let first = text.lines().nth(1).unwrap();
        let last_s: f64 = text.lines().last().unwrap().split(',').next().unwrap().parse().unwrap();
        assert!(first.starts_with("0.000000,"), "{first}");
        assert!((last_s - (OUT_S - IN_S + 7.0)).abs() < 0.7, "pass {k} lasts {last_s} s");
        // The same rows alone.
        let alone_csv = scratch.write("alone.csv", &csv(&afternoon.rows[afternoon.passes[k].clone()]));
        import(&scratch, &alone_csv, &format!("alone-{k}"), 0);
        let alone = run_in(Path::new(&scratch.path(&format!("alone-{k}")))).unwrap();
        tell_the_same(k, run, &alone, &[]);
    }
    // Once more: they are there already, and none of them is touched.
    let before = snapshot(Path::new(&out)).unwrap();
    assert_has(&import(&scratch, &file, "runs", 1).stderr, &["_pass-1 has these very rows", "--again"]);
    assert_eq!(snapshot(Path::new(&out)).unwrap(), before);
}

#[test]
fn what_an_import_says_of_none_and_of_one_pass() {
    let scratch = Scratch::new();
    let said = |name: &str, afternoon: Afternoon| {
        let file = scratch.write(&format!("{name}.csv"), &csv(&afternoon.rows));
        let ended = import(&scratch, &file, name, 0);
        let run = run_in(Path::new(&scratch.path(name))).unwrap();
        assert!(text_of(&run).ends_with("2027-04-11T1300_middle"), "{}", run.display());
        (
            ended.stderr,
            fs::read_to_string(run.join("plow.csv")).unwrap().lines().count() - 1,
            afternoon.rows.len(),
        )
    };
    let road = Afternoon::default().then(Headland::Carried(60.0)).then(Headland::Dragged);
    let (none, rows, all) = said("road", road);
    assert_eq!(rows, all);
    assert_has(&none, &["never in the ground", "the whole file is one run"]);
    let short = Afternoon::default().then(Headland::LetDown(6.0)).then(Headland::LetDown(7.0));
    let (short, ..) = said("short", short);
    assert_has(&short, &["no pass lasts 10 s", "the whole file is one run"]);
    let one = Afternoon::default().then(Headland::Stood(20.0)).pass("balanced", 1.0).then(Headland::Dragged);
    let (one, rows, all) = said("one", one);
    // The standing loads, and the run.
    assert_eq!((rows, one.lines().count()), (all, 2), "{one}");
    assert_has(&one, &["rows imported into"]);
}

#[test]
fn an_import_into_what_is_no_folder_is_refused() {
    let scratch = Scratch::new();
    let afternoon =
        Afternoon::default().pass("balanced", 1.0).then(Headland::Carried(9.0)).pass("balanced", 1.0);
    let file = scratch.write("afternoon.csv", &csv(&afternoon.rows));
    for out in ["afternoon.csv", "afternoon.csv/runs"] {
        let ended = import(&scratch, &file, out, 1);
        assert_has(&ended.stderr, &["afternoon.csv is a file", "--out"]);
        assert_eq!(ended.stderr.lines().count(), 1, "{}", ended.stderr);
    }
    // What else is in a folder stays.
    let kept = scratch.path("kept");
    fs::create_dir(&kept).unwrap();
    fs::write(Path::new(&kept).join("notes.txt"), "mine").unwrap();
    import(&scratch, &file, "kept", 0);
    assert_eq!(fs::read_to_string(Path::new(&kept).join("notes.txt")).unwrap(), "mine");
    assert_eq!(in_order(&kept).len(), 2);
}

/// Cuts a recording, and demands this exit status.
fn passes(run: &str, out: &str, code: i32) -> Ended {
    hitchwright(["passes", run, "--out", out], code).unwrap()
}

#[test]
fn a_recording_becomes_a_run_a_pass() {
    let (scratch, afternoon) = (Scratch::new(), ten_passes());
    let whole = scratch.path("afternoon");
    recording(&afternoon.rows, whole.as_ref());
    let before = snapshot(whole.as_ref()).unwrap();
    let out = scratch.path("cut/runs");
    let ended = passes(&whole, &out, 0);
    assert_eq!(snapshot(whole.as_ref()).unwrap(), before, "the recording stays as it is");
    let runs = in_order(&out);
    // The two that were let down for a few seconds are runs, too, and are told to be too short.
    assert_eq!(runs.len(), 12, "{}", ended.stdout);
    assert_eq!(ended.stdout.lines().count(), 12);
    assert_eq!(ended.stdout.matches("and a verdict needs 6 s").count(), 2, "{}", ended.stdout);
    assert!(ended.stderr.is_empty(), "{}", ended.stderr);
    let mut long =
        runs.iter().zip(ended.stdout.lines()).filter(|(_, line)| !line.contains("and a verdict needs"));
    for (k, rows) in afternoon.passes.iter().enumerate() {
        let (run, line) = long.next().unwrap();
        assert_has(line, &[text_of(run)]);
        let said = hitchwright(["check", text_of(run)], 0).unwrap().stdout;
        assert_has(&said, &["ended properly", "byte for byte"]);
        let alone = scratch.path(&format!("alone-{k}"));
        recording(&afternoon.rows[rows.clone()], alone.as_ref());
        hitchwright(["check", "--repair", &alone], 0).unwrap();
        // Where the plow hung still on the headland a cut pass knows of the zero before it, which speaks against a cause;
        // alone it begins under way.
        let stood = k == 0 || k == 5;
        let beside: &[&str] = if stood { &[".calibration.zero", ".evidence_against."] } else { &[] };
        tell_the_same(k, run, alone.as_ref(), beside);
        let zero = |run: &str| {
            json_of(["summary", run, "--json"]).unwrap()["calibration"]["zero"][0]["verdict"].clone()
        };
        if stood {
            assert_eq!(
                (zero(text_of(run)), zero(&alone)),
                ("as_calibrated".into(), "not_checked".into()),
                "pass {k}"
            );
        }
    }
    assert!(long.next().is_none());
    // Once more: new folders, none of the first touched.
    let before = snapshot(out.as_ref()).unwrap();
    passes(&whole, &out, 0);
    let after = snapshot(out.as_ref()).unwrap();
    assert_eq!(runs_in(out.as_ref()).unwrap().len(), 24);
    assert!(before.iter().all(|(path, file)| after.get(path) == Some(file)));
}

#[test]
fn what_is_said_of_a_recording_with_no_and_with_one_pass() {
    let scratch = Scratch::new();
    let make = |name: &str, afternoon: Afternoon| {
        let whole = scratch.path(name);
        recording(&afternoon.rows, whole.as_ref());
        whole
    };
    let road = make("road", Afternoon::default().then(Headland::Carried(60.0)).then(Headland::Dragged));
    let out = scratch.path("none");
    let none = passes(&road, &out, 1);
    assert_has(&none.stderr, &[&road, "never in the ground"]);
    assert!(none.stdout.is_empty() && !Path::new(&out).exists());
    let one = make("one", Afternoon::default().then(Headland::Stood(20.0)).pass("balanced", 1.0));
    let out = scratch.path("single");
    let said = passes(&one, &out, 0);
    assert_eq!((in_order(&out).len(), said.stdout.lines().count()), (1, 1));
    // A file in the place of the folder, or above it; an imported run; no run at all.
    let file = scratch.write("file", "mine");
    for out in [file.clone(), format!("{file}/runs")] {
        let refused = passes(&one, &out, 1);
        assert_has(&refused.stderr, &[&file, "is a file", "--out"]);
        assert_eq!(refused.stderr.lines().count(), 1, "{}", refused.stderr);
    }
    let logged = scratch.write("one.csv", &csv(&Afternoon::default().pass("balanced", 1.0).rows));
    import(&scratch, &logged, "imported", 0);
    let imported = run_in(Path::new(&scratch.path("imported"))).unwrap();
    let refused = passes(text_of(&imported), &scratch.path("none"), 1);
    assert_has(&refused.stderr, &["not recorded from a sensor box", "import the file"]);
    let refused = passes(&scratch.path("nowhere"), &scratch.path("none"), 1);
    assert_has(&refused.stderr, &["nowhere"]);
    assert!(!Path::new(&scratch.path("none")).exists());
}
