//! `statics --top` as a person runs it: on the two worked examples, and on descriptions that lack something.
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

use std::fs;
use std::path::Path;

use hitchwright_tests::Outcome;
use hitchwright_tests::command::{hitchwright, sample, text_of};
use hitchwright_tests::pdf::pages_of;
use hitchwright_tests::process::Ended;
use ingest::safety::BEFORE_HANDS;
use serde_json::Value;

fn statics(plow: &Path, more: &[&str], code: i32) -> Outcome<Ended> {
    let args = [&["statics", text_of(plow)], more].concat();
    hitchwright(&args, code)
}

#[test]
fn the_examples_say_which_way_and_how_far() -> Outcome<()> {
    for (name, pull, way, steps) in [
        ("wide-on-narrow.toml", "2400 lbf", "turns the tractor to the right", "to the left"),
        ("narrow-on-wide.toml", "700 lbf", "turns the tractor to the left", "to the right"),
    ] {
        let said =
            statics(&sample("plows").join(name), &["--top", "--pull", pull, "--units", "us"], 0)?.stdout;
        let line = |part: &str| said.lines().find(|line| line.contains(part)).unwrap_or_default().to_owned();
        assert!(said.contains(way), "{said}");
        assert!(line("Moving the pin").contains(steps), "{said}");
        assert!(line("Moving the pin").contains("of 1.0 in"), "{said}");
        assert!(line("What that move does").contains(" hp "), "{said}");
        assert!(
            said.contains("not cured sideways: vertical hitch, shares, landsides and tail wheel first"),
            "{said}"
        );
        // The side view is as it is without it.
        assert!(said.starts_with(
            &statics(&sample("plows").join(name), &["--pull", pull, "--units", "us"], 0)?.stdout
        ));
    }
    Ok(())
}

/// Found: -o made the page of the side view. The page, the drawing alone and the wall say the move that the text says.
#[test]
fn the_page_the_drawing_and_the_wall_say_what_the_text_says() -> Outcome<()> {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).display().to_string();
    for units in ["si", "us"] {
        for name in ["wide-on-narrow.toml", "narrow-on-wide.toml"] {
            let (page, drawing, wall) = (path("page.pdf"), path("top.svg"), path("wall.svg"));
            let common = ["--top", "--units", units, "--pull", "8000 N"];
            let more = [&common[..], &["-o", &page, "--paper", "letter", "--wall", &wall]].concat();
            let said = statics(&sample("plows").join(name), &more, 0)?.stdout;
            statics(&sample("plows").join(name), &[&common[..], &["-o", &drawing]].concat(), 0)?;
            assert_eq!(pages_of(Path::new(&page))?, 1, "{name}");
            let advised =
                said.lines().find(|line| line.contains("the pin at the tractor")).unwrap_or_default();
            for file in [drawing, wall] {
                let svg = fs::read_to_string(&file).unwrap();
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
    Ok(())
}

/// Every force of the JSON's lists, added up: nothing is left on either body.
#[test]
fn the_json_has_a_whole_free_body_of_each() -> Outcome<()> {
    let plow = sample("plows/wide-on-narrow.toml");
    let json: Value = serde_json::from_str(&statics(&plow, &["--top", "--json"], 0)?.stdout).unwrap();
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
    let plain: Value = serde_json::from_str(&statics(&plow, &["--json"], 0)?.stdout).unwrap();
    assert!(plain.get("top").is_none());
    Ok(())
}

#[test]
fn what_is_missing_is_said_and_what_to_add() -> Outcome<()> {
    let folder = tempfile::tempdir().unwrap();
    let text = fs::read_to_string(sample("plows/wide-on-narrow.toml")).unwrap();
    let (before, after) = text.split_once("[tractor]").unwrap();
    let (_, settings) = after.split_once("[settings.middle]").unwrap();
    let cases = [
        (format!("{before}[settings.middle]{settings}"), "needs a [tractor] table"),
        (text.replace("right_wheel = \"furrow\"", "right_wheel = \"land\""), "furrow_wall_offset is needed"),
        (text.replace("track = \"50 in\"", "track = \"10 in\""), "tractor.track"),
        (text.replace("landside_friction = 0.4", "landside_friction = 4"), "bottoms.landside_friction"),
        (text.replace("right_pull_share = 0.5", "right_pull_share = 55"), "tractor.right_pull_share"),
        (text.replace("lateral_offset = \"-5 in\"", "lateral_offset = \"12 ft\""), "lateral_offset"),
        (
            text.replace("front_axle_load = \"1400 lbf\"", "front_axle_load = \"300 lbf\""),
            "front of the tractor",
        ),
    ];
    for (text, part) in cases {
        let plow = folder.path().join("plow.toml");
        fs::write(&plow, text).unwrap();
        let ended = statics(&plow, &["--top"], 1)?;
        assert_eq!(ended.stdout, "", "{part}");
        assert!(
            ended.stderr.contains("plow.toml") && ended.stderr.contains(part),
            "{part}: {}",
            ended.stderr
        );
    }
    let mounted = statics(&sample("plows/three-bottom-mounted.toml"), &["--top"], 1)?;
    assert!(mounted.stderr.contains("trailed plows") && mounted.stderr.contains("mounted"), "{mounted:?}");
    Ok(())
}

/// On land the tyre's inside is left of the furrow wall, and the tractor's middle that much farther left.
#[test]
fn a_wheel_on_the_land_moves_the_tractor() -> Outcome<()> {
    let folder = tempfile::tempdir().unwrap();
    let plow = folder.path().join("on-land.toml");
    let text = fs::read_to_string(sample("plows/wide-on-narrow.toml")).unwrap();
    let on_land = "right_wheel = \"land\"\nfurrow_wall_offset = \"15 in\"";
    fs::write(&plow, text.replace("right_wheel = \"furrow\"", on_land)).unwrap();
    let json: Value = serde_json::from_str(&statics(&plow, &["--top", "--json"], 0)?.stdout).unwrap();
    let middle_m = json["top"]["tractor_middle_y_m"]["value"].as_f64().unwrap();
    // −24 + 15 − 6 + 25 = 10 in.
    assert!((middle_m / 0.0254 - 10.0).abs() < 0.1, "{middle_m}");
    Ok(())
}
