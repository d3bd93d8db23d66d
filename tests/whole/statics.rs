//! `statics --try`: pins that are moved on paper; and `statics --runs`: the stored runs of the virtual plow taken
//! together, against what the virtual plow knows of itself.

use std::fs;

use crate::{Scratch, sample_arg};
use hitchwright_tests::command::{hitchwright, json_of, sample};
use serde_json::Value;

/// Words for the two-bottom plow in its middle holes.
fn middle(more: &[&str]) -> Vec<String> {
    let plow = sample_arg("plows/two-bottom.toml");
    ["statics", &plow, "--setting", "middle"].iter().chain(more).map(|word| (*word).to_owned()).collect()
}

fn rows(report: &Value) -> &[Value] {
    report["holes"].as_array().unwrap()
}

fn load_n(row: &Value) -> f64 {
    row["tractor_load_n"]["value"].as_f64().unwrap()
}

/// What a move to another pair of holes does is what the table of holes has for that pair.
#[test]
fn a_move_to_holes_is_the_row_of_those_holes() {
    let moves = ["--try", "tractor_hitch=+2 holes", "--try", "plow_hitch=hole 6", "--json"];
    let report = json_of(middle(&moves)).unwrap();
    let then = &report["what_if"]["then"];
    assert_eq!((&then["plow_hole"], &then["tractor_hole"]), (&"6".into(), &"6".into()), "{then}");
    let row = rows(&report).iter().find(|row| row["plow_hole"] == "6" && row["tractor_hole"] == "6");
    assert!(row == Some(then), "the same draws give the same figures: {row:?} {then}");
    // Both ends up by as much keep the angle of the drawbar, and so the load on the tractor.
    let (now_n, then_n) = (load_n(&report["what_if"]["now"]), load_n(then));
    assert!((now_n - then_n).abs() < 1e-6, "{now_n} N and then {then_n} N");
}

/// Found by a plowman: x in feet with tenths beside z in inches, and heights rounded more than he had given them.
#[test]
fn lengths_in_the_table_of_forces_are_in_one_unit_and_as_fine_as_given() {
    let scratch = Scratch::new();
    let text = fs::read_to_string(sample("plows/one-bottom-trailed.toml")).unwrap();
    let given =
        [("x = \"-18 in ± 0.5 in\"", "x = \"-18 1/4 in\""), ("z = \"5 in ± 5 mm\"", "z = \"5 1/8 in\"")];
    let text = given.iter().fold(text, |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    });
    let plow = scratch.write("plow.toml", &text);
    for (units, places, other) in [
        ("us", ["x -18 1/4 in", "x 12 in, z 5 1/8 in", "x 0.0 in"], " ft"),
        ("si", ["x -464 mm", "x 305 mm, z 130 mm", "x 0 mm"], " m,"),
    ] {
        let told = hitchwright(["statics", &plow, "--units", units], 0).unwrap().stdout;
        let table = told.split("Forces on the plow").nth(1).unwrap().split("\n\n").next().unwrap();
        for place in places {
            assert!(table.contains(place), "{place}: {table}");
        }
        assert!(!table.contains(other), "{table}");
    }
}

/// Found by a plowman: hole 6 was refused by `--try`, and had figures once the pin was in it.
#[test]
fn a_try_of_the_holes_of_a_setting_is_that_setting() {
    for (file, plow) in crate::example_plows() {
        for (from, to) in plow.settings.keys().flat_map(|from| plow.settings.keys().map(move |to| (from, to)))
        {
            let holes = &plow.settings[to];
            let moves = [
                format!("plow_hitch=hole {}", holes.plow_hole.name),
                format!("tractor_hitch=hole {}", holes.tractor_hole.name),
            ];
            let args =
                ["statics", &file, "--setting", from, "--json", "--try", &moves[0], "--try", &moves[1]];
            let (tried, there) =
                (json_of(args).unwrap(), json_of(["statics", &file, "--setting", to, "--json"]).unwrap());
            let then = &tried["what_if"]["then"];
            let found = rows(&there).iter().find(|row| row["is_now"] == true).unwrap();
            for key in ["balance_index", "front_load_n", "tail_load_n", "pull_n", "tractor_load_n"] {
                for part in ["value", "low", "high"] {
                    let [a, b] = [then, found].map(|of| of[key][part].as_f64().unwrap());
                    assert!((a - b).abs() <= 1e-6 * (1.0 + b.abs()), "{file}: {from} to {to}: {key} {a} {b}");
                }
            }
            assert_eq!(then["cannot_be_chance"], found["cannot_be_chance"], "{file}: {from} to {to}");
            let front_n = found["front_load_n"]["value"].as_f64().unwrap();
            let drawn_n = there["loads"]["front_load_n"].as_f64().unwrap();
            let off_the_ground = there["loads"]["tail_load_n"].as_f64().unwrap() < 0.0;
            assert!(
                (front_n - drawn_n.max(0.0)).abs() < 1e-6 || off_the_ground,
                "{file}: {to}: two figures of now"
            );
        }
    }
}

/// Found by a plowman: 5 and 6 holes are 30 pairs, and the list had 20 without a word.
#[test]
fn every_pair_of_holes_is_told_or_said_to_be_left_out() {
    let heavy = ["--pull", "20 kN"];
    let report = json_of(middle(&[&heavy[..], &["--json"]].concat())).unwrap();
    let plow = ingest::plow::read_plow(&sample("plows/two-bottom.toml")).unwrap();
    let pairs = plow.plow_hitch.holes.len() * plow.tractor_hitch.holes.len();
    let never = report["no_choice"].as_array().unwrap();
    assert!(!never.is_empty() && never.iter().all(|pair| pair["cannot_be"] == "no_ground_load"), "{never:?}");
    assert_eq!(rows(&report).len() + never.len(), pairs);
    let said = |more: &[&str]| hitchwright(middle(&[&heavy[..], more].concat()), 0).unwrap().stdout;
    let few = said(&[]);
    assert!(few.contains(&format!("of {pairs} (--all-holes shows all)")), "{few}");
    assert!(few.contains(&format!("of the {pairs} pairs of holes are left out")), "{few}");
    let unsure = rows(&report).iter().filter(|row| row["cannot_be_chance"].as_f64().unwrap() > 0.05).count();
    let all = said(&["--all-holes"]);
    let (table, left_out) = all.split_once("Pairs to which no move leads").unwrap();
    assert_eq!(
        left_out.matches("of the cases the plow would be lifted").count(),
        unsure + never.len(),
        "{all}"
    );
    let table = table.split_once("What each pair of holes would do").unwrap().1;
    assert_eq!(table.lines().count() - 2, rows(&report).len(), "{table}");
}

/// Found by a plowman: wall and sheet showed only the holes as they are.
#[test]
fn what_is_tried_is_on_wall_and_sheet() {
    let folder = Scratch::new();
    let [wall, sheet, pdf] = ["wall.svg", "sheet.svg", "sheet.pdf"].map(|name| folder.path(name));
    let tried = ["--try", "tractor_hitch=+1 hole"];
    hitchwright(middle(&[&tried[..], &["--wall", &wall, "-o", &sheet]].concat()), 0).unwrap();
    hitchwright(middle(&[&tried[..], &["-o", &pdf]].concat()), 0).unwrap();
    let (wall, sheet) = (fs::read_to_string(wall).unwrap(), fs::read_to_string(sheet).unwrap());
    assert!(wall.contains("Tried: hole 5") && wall.contains("line of pull in the holes tried"), "{wall}");
    assert!(sheet.lines().any(|line| line.trim() == "tried"), "{sheet}");
    let refused = hitchwright(middle(&[&tried[..], &["--top", "-o", &pdf]].concat()), 2).unwrap().stderr;
    assert!(refused.contains("on which --try changes nothing"), "{refused}");
}

#[test]
fn a_place_that_is_not_there_is_refused_with_those_that_are() {
    for (tried, code, why) in [
        ("tractor_hitch=+9 holes", 1, "+9 holes from 4 at the tractor is not there"),
        ("tractor=+1 hole", 2, "write tractor_hitch=+2 holes"),
        ("plow_hitch=+2 washers", 1, "[plow_hitch] has no washer in the description"),
    ] {
        let said = hitchwright(middle(&["--try", tried]), code).unwrap().stderr;
        assert!(said.contains(why), "{said}");
    }
    for (units, length) in [("si", "plow_hitch=+25 mm"), ("us", "plow_hitch=+1 in")] {
        let said = hitchwright(middle(&["--try", "tractor=up", "--units", units]), 2).unwrap().stderr;
        assert!(said.contains(length), "{said}");
    }
}

/// Told of a plow that is expected to be in balance: the pair for a tractor that slips is a balanced row of the table, and loads the tractor by what the line says.
#[test]
fn the_holes_for_a_slipping_tractor_are_balanced_and_load_it_more() {
    let said = hitchwright(middle(&["--pull", "7000 N", "--units", "si"]), 0).unwrap().stdout;
    let line = said.lines().find(|line| line.starts_with("If the drive wheels slip:")).unwrap();
    let after = |mark: &str| line.split_once(mark).unwrap().1.split(' ').next().unwrap();
    let (tractor, plow, more_n) = (after(": hole "), after("tractor with hole "), after("puts "));
    let report = json_of(middle(&["--pull", "7000 N", "--json"])).unwrap();
    let now = rows(&report).iter().find(|row| row["is_now"] == true).unwrap();
    let mut others = rows(&report).iter();
    let then = others.find(|row| row["plow_hole"] == *plow && row["tractor_hole"] == *tractor).unwrap();
    let (gained_n, said_n) = (load_n(then) - load_n(now), more_n.parse::<f64>().unwrap());
    assert!(said_n > 0.0 && (gained_n - said_n).abs() <= 10.0, "{line}\n{gained_n} N and {more_n} N");
    let index = then["balance_index"]["value"].as_f64();
    assert!(index.is_some_and(|index| index.abs() <= 0.25), "{index:?}");
}

fn together(plow: &str, runs: &[&str], more: &[&str]) -> Vec<String> {
    let runs = runs.iter().map(|run| sample_arg(&format!("runs/{run}")));
    let mut args = vec!["statics".to_owned(), sample_arg(&format!("plows/{plow}.toml"))];
    args.extend(more.iter().map(|word| (*word).to_owned()));
    args.push("--runs".to_owned());
    args.extend(runs);
    args
}

#[test]
fn three_runs_together_hold_the_true_soil_and_the_true_balance_of_each() {
    let truth = |run: &str, key: &str| -> f64 {
        let text = fs::read_to_string(sample(&format!("runs/{run}.truth.toml"))).unwrap();
        text.parse::<toml::Table>().unwrap()[key].as_float().unwrap()
    };
    let holds = |interval: &Value, value: f64| {
        let end = |key: &str| interval[key].as_f64().unwrap();
        end("low") <= value && value <= end("high")
    };
    let names = ["too-flat", "balanced", "too-steep"];
    let found = json_of(together("two-bottom", &names, &["--json"])).unwrap();
    assert!(holds(&found["soil_slope"], truth("balanced", "soil_slope")), "{}", found["soil_slope"]);
    let runs = found["runs"].as_array().unwrap();
    assert_eq!(runs.len(), names.len());
    for (name, run) in names.into_iter().zip(runs) {
        let b = truth(name, "balance_index");
        assert!(holds(&run["together"]["balance_index"], b), "{name}: {b} {run}");
        assert!(holds(&run["alone"]["balance_index"], b), "{name}: {b} {run}");
    }
}

#[test]
fn runs_that_do_not_belong_together_are_refused() {
    for (plow, runs, more, code, why) in [
        ("two-bottom", ["balanced", "balanced"], &[][..], 2, "is named twice"),
        ("one-bottom-trailed", ["balanced", "too-flat"], &[], 1, "it is a run of"),
        ("two-bottom", ["balanced", "worn-shares"], &[], 1, "its shares were worn"),
        ("two-bottom", ["balanced", "too-flat"], &["--top"], 2, "cannot be used with"),
    ] {
        let said = hitchwright(together(plow, &runs, more), code).unwrap().stderr;
        assert!(said.contains(why), "{said}");
    }
}

/// What `statics --runs` of the balanced run says with the two-bottom plow's description changed.
fn with_description(change: impl Fn(String) -> String, code: i32) -> String {
    let text = fs::read_to_string(sample("plows/two-bottom.toml")).unwrap();
    let folder = Scratch::new();
    let plow = folder.write("plow.toml", &change(text));
    hitchwright(["statics", &plow, "--runs", &sample_arg("runs/balanced")], code).unwrap().stderr
}

/// Found by hand: the other commands told of a description without `runs_in`, this one did not.
#[test]
fn a_description_without_runs_in_is_told_of() {
    let without = |text: String| -> String {
        text.split_inclusive('\n').filter(|line| !line.starts_with("runs_in")).collect()
    };
    let old = with_description(without, 0);
    assert!(old.contains("tail_wheel has no runs_in: taken to run in the furrow"), "{old}");
    let new = with_description(|text| text, 0);
    assert!(!new.contains("runs_in"), "{new}");
}

/// Holes that were measured better since the run are the same holes; under the same name of a setting, others are not.
#[test]
fn a_run_is_taken_with_its_holes_measured_again_and_refused_with_others() {
    let with = |from: &str, to: &str, code: i32| {
        let replace = |text: String| {
            assert!(text.contains(from), "{text}");
            text.replace(from, to)
        };
        with_description(replace, code)
    };
    with("z = \"4 in ± 5 mm\"", "z = \"4.05 in ± 4 mm\"", 0);
    let holes = "plow_hole = \"4\"\ntractor_hole = \"4\"";
    let other = with(holes, "plow_hole = \"4\"\ntractor_hole = \"5\"", 1);
    assert!(other.contains("setting middle was other holes then"), "{other}");
}
