//! `statics --top` as a person runs it: on the two worked examples, and on descriptions that lack something.

use std::fs;

use crate::{Scratch, sample_arg};
use hitchwright_tests::command::{hitchwright, json_of, sample, stdout_of};
use hitchwright_tests::pdf::pages_of;
use hitchwright_tests::process::Ended;
use ingest::safety::BEFORE_HANDS;
use serde_json::Value;

fn statics(plow: &str, more: &[&str], code: i32) -> Ended {
    hitchwright([&["statics", plow], more].concat(), code).unwrap()
}

fn wide_on_narrow() -> String {
    fs::read_to_string(sample("plows/wide-on-narrow.toml")).unwrap()
}

#[test]
fn the_examples_say_which_way_and_how_far() {
    for (name, pull, way, steps) in [
        ("plows/wide-on-narrow.toml", "2400 lbf", "turns the tractor to the right", "to the left"),
        ("plows/narrow-on-wide.toml", "700 lbf", "turns the tractor to the left", "to the right"),
    ] {
        let side_view = ["statics", &sample_arg(name), "--pull", pull, "--units", "us"];
        let said = stdout_of([&side_view[..], &["--top"]].concat()).unwrap();
        let line = |part: &str| said.lines().find(|line| line.contains(part)).unwrap_or_default().to_owned();
        assert!(said.contains(way), "{said}");
        assert!(line("Moving the pin").contains(steps), "{said}");
        assert!(line("Moving the pin").contains("of 1.0 in"), "{said}");
        assert!(line("What that move does").contains(" hp "), "{said}");
        let not_cured = "not cured sideways: vertical hitch, shares, landsides and tail wheel first";
        assert!(said.contains(not_cured), "{said}");
        // The side view is as it is without it.
        assert!(said.starts_with(&stdout_of(side_view).unwrap()));
    }
}

/// Found: -o made the page of the side view. The page, the drawing alone and the wall say the move that the text says.
#[test]
fn the_page_the_drawing_and_the_wall_say_what_the_text_says() {
    let folder = Scratch::new();
    let [page, drawing, wall] = ["page.pdf", "top.svg", "wall.svg"].map(|name| folder.path(name));
    for units in ["si", "us"] {
        for name in ["plows/wide-on-narrow.toml", "plows/narrow-on-wide.toml"] {
            let plow = sample_arg(name);
            let common = ["--top", "--units", units, "--pull", "8000 N"];
            let more = [&common[..], &["-o", &page, "--paper", "letter", "--wall", &wall]].concat();
            let said = statics(&plow, &more, 0).stdout;
            statics(&plow, &[&common[..], &["-o", &drawing]].concat(), 0);
            assert_eq!(pages_of(page.as_ref()).unwrap(), 1, "{name}");
            let advised =
                said.lines().find(|line| line.contains("the pin at the tractor")).unwrap_or_default();
            for file in [&drawing, &wall] {
                let svg = fs::read_to_string(file).unwrap();
                let words: Vec<&str> = svg.split(['<', '>']).flat_map(str::split_whitespace).collect();
                let shown = words.join(" ");
                for word in advised.split_whitespace().chain(BEFORE_HANDS.split_whitespace()) {
                    assert!(shown.contains(word), "{name}: {file} lacks {word}: {advised}");
                }
                assert!(!shown.contains("by −") && !shown.contains("by -"), "{file}");
                assert!(shown.contains("not cured sideways"), "{file}");
            }
        }
    }
}

/// Every force of the JSON's lists, added up: nothing is left on either body.
#[test]
fn the_json_has_a_whole_free_body_of_each() {
    let plow = sample_arg("plows/wide-on-narrow.toml");
    let json = json_of(["statics", &plow, "--top", "--json"]).unwrap();
    assert!(json["loads"]["pull_x_n"].is_number(), "the side view stays at the top level");
    let top = &json["top"];
    for list in ["plow_forces", "tractor_forces"] {
        let (mut x_n, mut y_n, mut moment_n_m, mut size_n) = (0.0, 0.0, 0.0, 0.0);
        for force in top[list].as_array().unwrap() {
            let number = |value: &Value| value.as_f64().unwrap();
            let (fx, fy) = (number(&force["x_n"]), number(&force["y_n"]));
            x_n += fx;
            y_n += fy;
            moment_n_m += number(&force["at"]["x_m"]) * fy - number(&force["at"]["y_m"]) * fx;
            size_n += fx.abs() + fy.abs();
        }
        assert!(size_n > 1_000.0, "{list}: {size_n}");
        for left in [x_n, y_n, moment_n_m] {
            assert!(f64::abs(left) < 1e-9 * size_n, "{list}: {x_n} {y_n} {moment_n_m}");
        }
    }
    let off = &top["now"]["off_target_m"];
    assert!(off["low"].as_f64() < off["value"].as_f64() && off["value"].as_f64() < off["high"].as_f64());
    assert!(json_of(["statics", &plow, "--json"]).unwrap().get("top").is_none());
}

#[test]
fn what_is_missing_is_said_and_what_to_add() {
    let (folder, text) = (Scratch::new(), wide_on_narrow());
    let (before, after) = text.split_once("[tractor]").unwrap();
    let (_, settings) = after.split_once("[settings.middle]").unwrap();
    let replaced = |from: &str, to: &str| text.replace(from, to);
    let cases = [
        (format!("{before}[settings.middle]{settings}"), "needs a [tractor] table"),
        (replaced("right_wheel = \"furrow\"", "right_wheel = \"land\""), "furrow_wall_offset is needed"),
        (replaced("track = \"50 in\"", "track = \"10 in\""), "tractor.track"),
        (replaced("landside_friction = 0.4", "landside_friction = 4"), "bottoms.landside_friction"),
        (replaced("right_pull_share = 0.5", "right_pull_share = 55"), "tractor.right_pull_share"),
        (replaced("lateral_offset = \"-5 in\"", "lateral_offset = \"12 ft\""), "lateral_offset"),
        (replaced("load = \"1400 lbf\"", "load = \"300 lbf\""), "front of the tractor"),
    ];
    for (text, part) in cases {
        let Ended { stdout, stderr, .. } = statics(&folder.write("plow.toml", &text), &["--top"], 1);
        assert_eq!(stdout, "", "{part}");
        assert!(stderr.contains("plow.toml") && stderr.contains(part), "{part}: {stderr}");
    }
    let mounted = statics(&sample_arg("plows/three-bottom-mounted.toml"), &["--top"], 1);
    assert!(mounted.stderr.contains("trailed plows") && mounted.stderr.contains("mounted"), "{mounted:?}");
}

/// On land the tyre's inside is left of the furrow wall, and the tractor's middle that much farther left.
#[test]
fn a_wheel_on_the_land_moves_the_tractor() {
    let folder = Scratch::new();
    let on_land = "right_wheel = \"land\"\nfurrow_wall_offset = \"15 in\"";
    let plow = folder.write("on-land.toml", &wide_on_narrow().replace("right_wheel = \"furrow\"", on_land));
    let json = json_of(["statics", &plow, "--top", "--json"]).unwrap();
    let middle_m = json["top"]["tractor_middle_y_m"]["value"].as_f64().unwrap();
    // −24 + 15 − 6 + 25 = 10 in.
    assert!((middle_m / 0.0254 - 10.0).abs() < 0.1, "{middle_m}");
}
