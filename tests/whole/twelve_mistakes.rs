//! What a plowman who had never seen the program did in an evening: spellings of his own, an editor's quotation marks, and
//! the slips of a tape. Each is understood, questioned, or answered with what is meant; none passes in silence.

use crate::{Scratch, sample_arg};
use hitchwright_tests::command::{assert_has, hitchwright, sample};

/// The one-bottom plow with parts of its description changed.
fn plow(scratch: &Scratch, changes: &[(&str, &str)]) -> String {
    let text = std::fs::read_to_string(sample("plows/one-bottom-trailed.toml")).unwrap();
    let text = changes.iter().fold(text, |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    });
    scratch.write("plow.toml", &text)
}

/// What `statics` of the changed plow says on both outputs, with this status.
fn said(changes: &[(&str, &str)], code: i32) -> String {
    let scratch = Scratch::new();
    let ended = hitchwright(["statics", &plow(&scratch, changes), "--units", "us"], code).unwrap();
    ended.stdout + &ended.stderr
}

/// 1 to 4: pounds, inches, feet and fractions, and the ± of a keyboard.
#[test]
fn units_are_understood_as_people_write_them() {
    let plain = said(&[("400 lbf ± 8 lbf", "820 lbf ± 8 lbf"), ("40 in ± 0.25 in", "42 in ± 0.25 in")], 0);
    for weight in ["820 lb +- 8 lb", "820 lbs +- 8 lbs", "820 pounds +/- 8 pounds", "820 LBS ± 8 lb."] {
        for length in ["3'6\\\" ± 1/4 in", "3 ft 6 in +- 0.25 in", "42 inches ± ¼ in", "3’6” +- 1/4″"]
        {
            let other = said(&[("400 lbf ± 8 lbf", weight), ("40 in ± 0.25 in", length)], 0);
            assert!(other == plain, "{weight}, {length}: {other}\n{plain}");
        }
    }
    for (height, wanted) in [("3-1/4 in", "3 1/4 in"), ("3¼ in", "3 1/4 in"), ("3 ft 10 in", "46 in")] {
        let told = said(&[("z = \"3 in ± 5 mm\"", &format!("z = \"{height}\""))], 0);
        let row = ["--all-holes"].map(str::to_owned);
        let scratch = Scratch::new();
        let file = plow(&scratch, &[("z = \"3 in ± 5 mm\"", &format!("z = \"{height}\""))]);
        let all =
            hitchwright(["statics", &file, "--units", "us"].map(str::to_owned).into_iter().chain(row), 0);
        let all = all.unwrap().stdout;
        assert!(
            all.contains(&format!("2 ({wanted})")) || told.contains("hole \"2\" at 46 in"),
            "{height}: {all}"
        );
    }
}

/// 5: an editor's quotation marks; all of them are named in one run, each with its line, and what else is wrong too.
#[test]
fn curly_quotation_marks_are_named_with_everything_else() {
    let said = said(
        &[
            ("total = \"400 lbf ± 8 lbf\"", "total = “400 lbf ± 8 lbf”"),
            ("cut_width = \"14 in\"", "cut_width = “14 in”"),
            ("count = 1", "count = \"one\""),
            ("{ name = \"1\", z = \"2 in ± 5 mm\" }", "\"2 in\""),
            ("tractor_hole = \"3\"", "tractor_hole = 3"),
        ],
        1,
    );
    assert_has(
        &said,
        &[
            "line 8: there is a curly quotation mark (“)",
            "\n    total = “400 lbf ± 8 lbf”\n",
            "line 23: there is a curly quotation mark (“)",
            "line 22: bottoms.count: write a whole number without quotation marks, such as 2\n    count = \"one\"\n",
            "line 32: plow_hitch.holes: write { name = ..., z = ... }\n    \"2 in\",\n",
            "settings.middle.tractor_hole: write it between quotation marks: \"3\"\n    tractor_hole = 3\n",
        ],
    );
    for jargon in ["struct", "u32", "literal", "TOML parse", "expected", "field", "string"] {
        assert!(!said.contains(jargon), "{jargon}: {said}");
    }
    let lines: Vec<&str> = said.lines().filter(|line| line.contains(", line ")).collect();
    assert_eq!(lines.len(), 5, "{said}");
}

/// 6 to 10: possible, and wrong. The loads of the wheels are said, and what is unusual is asked.
#[test]
fn slips_of_a_tape_are_questioned_wherever_the_description_is_first_used() {
    let two = ("count = 1", "count = 2");
    for (changes, wanted) in [
        (vec![("-18 in ± 0.5 in", "-38 in")], "unusual: weight.x: -38 in puts 68 % of the standing weight"),
        (vec![("400 lbf ± 8 lbf", "129 lbf")], "unusual: weight.total: 129 lbf is little"),
        (vec![("12 in ± 0.25 in", "-2 in")], "unusual: plow_hitch.x: -2 in is behind the front axle"),
        (vec![two, ("\"14 in\"", "\"28 in\"")], "unusual: bottoms.cut_width: 28 in is wide for one bottom"),
        (
            vec![("z = \"4 in ± 5 mm\"", "z = \"32.5 in\"")],
            "unusual: plow_hitch.holes: hole \"3\" at 32.5 in",
        ),
    ] {
        let told = said(&changes, 0);
        assert_has(&told, &["standing level: front ", wanted, "First check "]);
        // No bold verdict rests on it, and where one stands it says on what.
        assert!(told.contains("expected: NOT SHOWN") || told.contains("It rests on "), "{told}");
        assert!(told.contains("expected: NOT SHOWN") || told.contains("LOOKS "), "{told}");
        let scratch = Scratch::new();
        let (file, out) = (plow(&scratch, &changes), scratch.path("runs"));
        let logger =
            scratch.write("logger.csv", "t_s,pull_n,tail_mm,depth_mm\n0,5000,20,170\n1,5000,20,170\n");
        let columns = ["t_s", "pull_n", "tail_mm", "depth_mm"].map(|column| format!("{column}={column}"));
        let mut words = vec!["import", &logger, "--plow", &file, "--setting", "middle", "--out", &out];
        columns.iter().for_each(|column| words.extend(["--column", column]));
        let imported = hitchwright(words, 0).unwrap().stderr;
        assert_has(&imported, &["standing level: front ", wanted]);
        assert_eq!(imported.matches("unusual: ").count(), 1, "{imported}");
    }
}

/// A run carries its plow: the questions are asked of it too, once.
#[test]
fn a_summary_asks_what_is_unusual_in_the_plow_of_its_run() {
    let scratch = Scratch::new();
    let run = scratch.path("run");
    std::fs::create_dir(&run).unwrap();
    for file in std::fs::read_dir(sample("runs/balanced")).unwrap() {
        let file = file.unwrap().path();
        std::fs::copy(&file, std::path::Path::new(&run).join(file.file_name().unwrap())).unwrap();
    }
    let usual = hitchwright(["summary", &run], 0).unwrap().stderr;
    assert!(!usual.contains("unusual"), "{usual}");
    let toml = std::path::Path::new(&run).join("run.toml");
    let text = std::fs::read_to_string(&toml).unwrap();
    let hitch = text.find("[plow.plow_hitch]").unwrap();
    let (before, behind) = text.split_at(hitch);
    std::fs::write(&toml, before.to_owned() + &behind.replacen("x = \"300 mm", "x = \"-300 mm", 1)).unwrap();
    let ended = hitchwright(["summary", &run], 0).unwrap();
    assert_eq!(
        ended.stderr.matches("unusual: plow_hitch.x: -300 mm is behind").count(),
        1,
        "{}",
        ended.stderr
    );
}

/// The same run with an entry that no reading tells of: kept, it stands where the verdict stands, in every form of it.
#[test]
fn a_verdict_says_what_unusual_entry_it_rests_on() {
    let scratch = Scratch::new();
    let run = scratch.path("run");
    std::fs::create_dir(&run).unwrap();
    for file in std::fs::read_dir(sample("runs/too-flat")).unwrap() {
        let file = file.unwrap().path();
        std::fs::copy(&file, std::path::Path::new(&run).join(file.file_name().unwrap())).unwrap();
    }
    let toml = std::path::Path::new(&run).join("run.toml");
    let text = std::fs::read_to_string(&toml).unwrap();
    let from = text.find("cut_width = ").unwrap();
    let to = from + text[from..].find('\n').unwrap();
    std::fs::write(&toml, format!("{}cut_width = \"28 in\"{}", &text[..from], &text[to..])).unwrap();
    let said = |args: &[&str]| hitchwright([&["summary", &run], args].concat(), 0).unwrap().stdout;
    for args in [vec![], vec!["--brief"]] {
        let told = said(&args);
        assert_has(
            &told,
            &[
                "DRAWBAR LOOKS TOO FLAT",
                "It rests on a width of cut of 28 in, which is unusual: check before you buy or move.",
                "First check a width of cut of 28 in, which is unusual",
                "Only if that is right: Engine off",
            ],
        );
    }
    let json: serde_json::Value = serde_json::from_str(&said(&["--json"])).unwrap();
    assert_eq!(json["advice"][0]["step"], "check_first");
    assert_eq!(json["advice"][0]["entries"][0], "a width of cut of 28 in");
    assert_eq!(json["advice"][1]["step"], "move_pins");
}

/// 11 and 12: a hole by its name, and a place that is none.
#[test]
fn a_hole_is_tried_by_its_name() {
    let file = sample_arg("plows/one-bottom-trailed.toml");
    let tried = |tried: &str, code| hitchwright(["statics", &file, "--try", tried], code).unwrap();
    assert_eq!(tried("tractor_hole=4", 0).stdout, tried("tractor_hitch=hole 4", 0).stdout);
    assert_has(
        &tried("tractor_hole=44", 1).stderr,
        &["hole 44 at the tractor is not there: it has the holes \"1\""],
    );
    assert_has(&tried("hole=4", 2).stderr, &["'hole=4' is no move of a pin: write tractor_hitch=+2 holes"]);
}
