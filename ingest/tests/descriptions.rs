//! Descriptions of plows in which one entry is wrong: refused at that entry, with what would be right.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use ingest::plow::{ChannelRole, Plow, read_plow, read_plow_text};
use std::path::Path;

fn text_of(example: &str) -> String {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/plows");
    std::fs::read_to_string(folder.join(example)).unwrap()
}

fn read(text: &str) -> Result<Plow, String> {
    read_plow_text(text, Path::new("plow.toml")).map_err(|error| error.to_string())
}

/// The line before which these entries stand.
fn with_entries(text: &str, before: &str, entries: &str) -> String {
    assert!(text.contains(before), "no {before:?} in {text}");
    text.replacen(before, &format!("{entries}\n{before}"), 1)
}

fn changed(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "no {from:?} in {text}");
    text.replacen(from, to, 1)
}

fn refuses(text: &str, parts: &[&str]) {
    let said = read(text).unwrap_err();
    // One fault: its sentence, and under it the line.
    assert!(said.starts_with("plow.toml, line ") && said.lines().count() == 2, "{said}");
    for part in parts {
        assert!(said.contains(part), "no {part:?} in {said}");
    }
}

#[test]
fn limits_must_rise_and_lie_between_0_and_1() {
    let plow = text_of("two-bottom.toml");
    let limits = |balanced: f64, leaning: f64| {
        format!("{plow}\n[limits]\nbalanced = {balanced:?}\nleaning = {leaning:?}\nlifted_share = 0.05\n")
    };
    let read_limits = read(&limits(0.2, 0.5)).unwrap().limits;
    assert_eq!((read_limits.balanced, read_limits.leaning), (0.2, 0.5));
    for (balanced, leaning) in [(0.0, 0.5), (0.5, 0.5), (0.6, 0.5), (0.2, 1.0)] {
        refuses(&limits(balanced, leaning), &["limits: 0 < balanced < leaning < 1 must hold"]);
    }
    refuses(&changed(&limits(0.2, 0.5), "0.05", "1.0"), &["limits.lifted_share: a share lies between"]);
}

#[test]
fn the_soil_acts_between_the_land_and_the_depth() {
    let plow = text_of("two-bottom.toml");
    let z =
        |z: &str| changed(&plow, "soil_force_z = \"-100 mm ± 20 mm\"", &format!("soil_force_z = \"{z}\""));
    assert!(read(&z("-229 mm")).is_ok());
    for wrong in ["0 mm", "20 mm", "-240 mm"] {
        refuses(&z(wrong), &["bottoms.soil_force_z: the soil acts between"]);
    }
}

#[test]
fn a_load_table_rises_in_both_and_has_two_lines() {
    let plow = text_of("two-bottom.toml");
    let table =
        |lines: &str| changed(&plow, r#"[["0 mm", "0 N"], ["40 mm", "1000 N"], ["80 mm", "2000 N"]]"#, lines);
    for falls in [r#"[["0 mm", "0 N"], ["0 mm", "9 N"]]"#, r#"[["0 mm", "9 N"], ["9 mm", "9 N"]]"#] {
        refuses(&table(falls), &["tail_wheel.load_table: deflection and load must both rise"]);
    }
    refuses(&table(r#"[["0 mm", "0 N"]]"#), &["tail_wheel.load_table: at least two lines"]);
}

/// A tractor, with its right wheel where it is said.
fn tractor(wheel: &str, more: &str) -> String {
    let tractor = format!(
        "[tractor]\nwheelbase = \"2.4 m\"\nfront_axle_load = \"12 kN\"\nrear_axle_load = \"18 kN\"\n\
         track = \"1.6 m\"\nrear_tyre_width = \"400 mm\"\nright_wheel = \"{wheel}\"\n\
         hitch_behind_rear_axle = \"700 mm\"\n{more}\n"
    );
    format!("{}\n{tractor}", text_of("two-bottom.toml"))
}

#[test]
fn the_place_of_the_tractors_wheel_belongs_to_where_it_runs() {
    for (wheel, more) in [
        ("furrow", ""),
        ("furrow", "furrow_wall_offset = \"-30 mm\""),
        ("land", "furrow_wall_offset = \"400 mm\""),
    ] {
        let plow = read(&tractor(wheel, more));
        assert!(
            plow.is_ok_and(|plow| plow.tractor.is_some()),
            "{wheel} {more}: {:?}",
            read(&tractor(wheel, more))
        );
    }
    refuses(&tractor("land", ""), &["tractor: with right_wheel = \"land\", furrow_wall_offset is needed"]);
    refuses(
        &tractor("land", "furrow_wall_offset = \"390 mm\""),
        &["tractor.furrow_wall_offset: a tire on the land has its inside at least its own width"],
    );
    refuses(
        &tractor("furrow", "furrow_wall_offset = \"200 mm\""),
        &["tractor.furrow_wall_offset: a tire in the furrow has its inside at the wall"],
    );
    refuses(&tractor("furrow", "right_pull_share = 1.5"), &["tractor.right_pull_share: a share lies"]);
    refuses(
        &changed(&tractor("furrow", ""), "\"1.6 m\"", "\"0.3 m\""),
        &["tractor.track: the track is measured"],
    );
}

#[test]
fn what_nobody_could_have_measured_is_refused_by_its_key() {
    let plow = text_of("two-bottom.toml");
    let offset = with_entries(&plow, "[settings.middle]", "lateral_offset = \"5 m\"\n");
    refuses(
        &offset,
        &["settings.flat.lateral_offset: 5 m cannot be the pin's place across: none is outside of -4 to 4 m"],
    );
    // Digits by the hundred are not said back.
    let weight = changed(&plow, "3400 N ± 60 N", "34000000000000000000000 N");
    refuses(&weight, &["weight.total: 3.400e22 N cannot be"]);
}

#[test]
fn lower_links_have_pins_of_their_own_on_a_mounted_plow_only() {
    let mounted = text_of("three-bottom-mounted.toml");
    let pins = "[lower_links.pins]\nplow_z = \"430 mm ± 10 mm\"\ntractor_z = \"460 mm ± 10 mm\"\n";
    refuses(
        &changed(&mounted, pins, ""),
        &["lower_links.pins: missing: the holes of a mounted plow are those"],
    );
    let semi = text_of("four-bottom-semi-mounted.toml");
    refuses(
        &with_entries(&semi, "[tail_wheel]", pins),
        &["lower_links.pins: the holes of this plow are those of its lower links already"],
    );
}

#[test]
fn sensors_that_cannot_be_right_are_refused_by_their_channel() {
    let plow = text_of("two-bottom.toml");
    for (from, to, part) in [
        ("channel = \"tail\"", "channel = \"pull\"", "channel \"pull\" stands there twice"),
        ("measures = \"tail\"", "measures = \"pull\"", "two channels measure pull_n"),
        ("date = \"2026-03-01\"", "date = \"2026-13-01\"", "'2026-13-01' is not a day like"),
        ("[-8388608, 8388607]", "[5, 5]", "channel \"pull\": count_limits must rise"),
        ("[2412840, \"6000 N\"]", "[1e308, \"6000 N\"]", "finite numbers of a reasonable size"),
        ("[2412840, \"6000 N\"]", "[inf, \"6000 N\"]", "finite numbers of a reasonable size"),
        ("[2412840, \"6000 N\"]", "[2412840, \"6000 mm\"]", "channel \"pull\": calibration: "),
    ] {
        refuses(&changed(&plow, from, to), &["sensors.", part]);
    }
}

/// A channel that says nothing of a kind of plow is named with why, and one that does is not.
#[test]
fn channels_that_say_nothing_of_a_kind_of_plow_are_told() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/plows");
    let plow = |name: &str| read_plow(&folder.join(name)).unwrap();
    let (trailed, mounted) = (plow("two-bottom.toml"), plow("three-bottom-mounted.toml"));
    for role in [ChannelRole::FrontHeight, ChannelRole::DrawbarAngle] {
        assert_eq!(trailed.cannot_use(role), None);
        assert!(mounted.cannot_use(role).unwrap().contains("mounted plow"), "{role:?}");
    }
    for role in [ChannelRole::LowerLinks, ChannelRole::TopLink] {
        assert!(trailed.cannot_use(role).unwrap().contains("[top_link]"), "{role:?}");
        assert_eq!(mounted.cannot_use(role), None);
    }
    assert_eq!(trailed.cannot_use(ChannelRole::Pull), None);
}

#[test]
fn a_plow_file_that_is_not_there_is_named() {
    let error = read_plow(Path::new("no-such-plow.toml")).unwrap_err().to_string();
    assert!(error.starts_with("no-such-plow.toml: "), "{error}");
}

/// What is asked of a description, each as key and sentence.
fn asked(text: &str) -> Vec<(String, String)> {
    let questions = read(text).unwrap().questions();
    questions.into_iter().map(|doubt| (doubt.key().to_owned(), doubt.sentence)).collect()
}

/// The one question about a description in which this was changed.
fn question(from: &str, to: &str) -> (String, String) {
    let found = asked(&changed(&text_of("two-bottom.toml"), from, to));
    let [one] = &found[..] else { panic!("{found:?}") };
    one.clone()
}

#[test]
fn what_is_unusual_is_asked_for_and_the_examples_are_not() {
    for example in ["two-bottom", "four-bottom-semi-mounted", "three-bottom-mounted", "one-bottom-walking"] {
        assert_eq!(asked(&text_of(&format!("{example}.toml"))), [], "{example}");
    }
    for (from, to, key, part) in [
        (
            "x = \"-600 mm ± 10 mm\"",
            "x = \"-1300 mm\"",
            "weight.x",
            "-1300 mm puts 68 % of the standing weight on the tail",
        ),
        (
            "x = \"-600 mm ± 10 mm\"",
            "x = \"-200 mm\"",
            "weight.x",
            "-200 mm puts 11 % of the standing weight on the tail",
        ),
        ("3400 N ± 60 N", "1500 N", "weight.total", "1500 N is little for a plow on wheels with 2 bottoms"),
        ("x = \"300 mm ± 5 mm\"", "x = \"-20 mm\"", "plow_hitch.x", "-20 mm is behind the front axle"),
        ("\"355 mm\"", "\"710 mm\"", "bottoms.cut_width", "is it the cut of one, and not of all 2?"),
        (
            "z = \"9 in ± 5 mm\"",
            "z = \"16.5 in\"",
            "plow_hitch.holes",
            "hole \"9\" at 16.5 in is far from the others of its row",
        ),
        ("z = \"16 in ± 5 mm\"", "z = \"23 in\"", "tractor_hitch.holes", "hole \"7\" at 23 in is far"),
    ] {
        let (found, sentence) = question(from, to);
        assert_eq!(found, key, "{sentence}");
        assert!(sentence.contains(part), "{sentence}");
    }
    // Without a spring to go by, the number of bottoms says what is little.
    let landside = |weight: &str| {
        asked(&changed(&text_of("three-bottom-rolling-landside.toml"), "5600 N ± 100 N", weight))
    };
    assert_eq!(landside("2500 N"), []);
    let [(key, sentence)] = &landside("2300 N")[..] else { panic!("{:?}", landside("2300 N")) };
    assert_eq!((key.as_str(), sentence.contains("with 3 bottoms")), ("weight.total", true), "{sentence}");
    let single =
        changed(&changed(&text_of("two-bottom.toml"), "count = 2", "count = 1"), "3400 N ± 60 N", "700 N");
    let found = asked(&single);
    assert!(found[0].1.starts_with("700 N is little for a plow on wheels with a bottom: "), "{found:?}");
}

/// A cut as wide is one of one bottom; two holes far apart are no row.
#[test]
fn what_may_be_so_is_not_asked_for() {
    let single = changed(&text_of("one-bottom-trailed.toml"), "\"14 in\"", "\"24 in\"");
    assert_eq!(asked(&single), []);
    let two_holes = changed(&text_of("narrow-on-wide.toml"), "z = \"10 in\"", "z = \"30 in\"");
    let row = |(_, sentence): &(String, String)| sentence.contains("far from the others");
    assert!(!asked(&two_holes).iter().any(row));
    // Nor are three, each as far from the next: which of them would be wrong?
    let three_holes = changed(
        &changed(&text_of("narrow-on-wide.toml"), "z = \"8 in\"", "z = \"4 in\""),
        "{ name = \"high\", z = \"10 in\" }",
        "{ name = \"high\", z = \"14 in\" }, { name = \"top\", z = \"24 in\" }",
    );
    assert_eq!(asked(&three_holes), []);
    let mounted =
        changed(&text_of("three-bottom-mounted.toml"), "x = \"-1050 mm ± 15 mm\"", "x = \"-200 mm\"");
    assert_eq!(asked(&mounted), [], "it stands on no wheels of its own");
}

#[test]
fn a_slip_of_the_pen_is_shown_short_beside_what_is_usual() {
    let tail = |x: &str| changed(&text_of("two-bottom.toml"), "-1900 mm ± 10 mm", x);
    refuses(
        &tail("-30 m"),
        &["tail_wheel.x: -30 m cannot be the place of a tail wheel: none is outside of -25 to 0 m"],
    );
    refuses(&tail("-123456789012345 m"), &["tail_wheel.x: -1.235e14 m cannot be the place of a tail wheel"]);
}

/// An editor for letters puts curly marks around a name.
#[test]
fn curly_quotation_marks_are_named_with_the_cure() {
    let curly = changed(&text_of("two-bottom.toml"), "\"355 mm\"", "“355 mm”");
    refuses(&curly, &["there is a curly quotation mark (“) around a name or value: write straight ones"]);
}

/// What is wrong is told at once and once: a sensor whose channel is missing is not told to be no sensor as well, and one
/// that is read wrong hides none of the others.
#[test]
fn all_that_is_wrong_is_told_in_one_reading_and_nothing_that_follows_from_it() {
    let sensor = "\n[[sensors]]\nmeasures = \"other\"\nunit = \"1/min\"\n";
    let plow = text_of("two-bottom.toml") + sensor;
    let said = read(&plow).unwrap_err();
    assert!(said.contains("sensors.channel: ") && said.matches(", line ").count() == 1, "{said}");
    let said = read(&(plow + "channel = \"rpm\"\n")).unwrap_err();
    assert!(said.contains("name"), "then what else it lacks: {said}");
    let wrong = changed(&text_of("two-bottom.toml"), "[-8388608, 8388607]", "\"5\"");
    refuses(&wrong, &["sensors.count_limits: write a list of 2 between brackets, [..., ...]"]);
    refuses(&changed(&text_of("two-bottom.toml"), "[-8388608, 8388607]", "5"), &["sensors.count_limits: "]);
    let list = changed(&text_of("two-bottom.toml"), "[\"80 mm\", \"2000 N\"]]", "[\"80 mm\", 2000]]");
    refuses(&list, &["tail_wheel.load_table: '2000' has no unit; write a force"]);
    let table = changed(
        &text_of("two-bottom.toml"),
        "[[2150, \"0 mm\"], [22150, \"50 mm\"], [42150, \"100 mm\"]]",
        "22150",
    );
    refuses(&table, &["sensors.calibration.points: write a list between brackets, [ ... ]"]);
}

/// A line that is no TOML hides nothing of the tables after it, and a missing table is missed beside it.
#[test]
fn a_missing_table_is_told_beside_a_line_that_cannot_be_read() {
    let plow = changed(&text_of("two-bottom.toml"), "coefficient = 0.06", "coefficient = 0.06 !");
    let (before, weight) = plow.split_once("[weight]").unwrap();
    let after = weight.split_once("\n[").unwrap().1;
    let said = read(&format!("{before}[{after}")).unwrap_err();
    assert!(said.contains("line 19: write it between quotation marks: \"0.06 !\""), "{said}");
    assert!(said.contains("weight: "), "{said}");
}
