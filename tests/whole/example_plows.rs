//! Every example description in `sample-runs/plows`, each kind of plow among them: `statics` says what its parts
//! carry, in words of that kind, and its page is one page.

use std::fs;

use crate::pages::boxes::{number, points, tags};
use crate::{Scratch, example_plows, is_one_page, sample_arg};
use hitchwright_tests::command::{assert_has, hitchwright, sample, stdout_of};
use hitchwright_tests::snapshot::copy_run;
use ingest::plow::{FrontWheels, Kind, RunsIn, Tail, read_plow};

const TWO_BOTTOM: &str = include_str!("../../sample-runs/plows/two-bottom.toml");

#[test]
fn statics_of_each_example_speaks_of_its_own_parts() {
    let mut kinds = Vec::new();
    for (name, plow) in example_plows() {
        let parts = plow.part_names();
        assert!(plow.name.ends_with("(invented)"), "{} does not say that it is invented", plow.name);
        let text = stdout_of(["statics", &name, "--all-holes"]).unwrap();
        assert_has(&text, &[parts.front, parts.tail, parts.origin]);
        for (part, kind) in [("front wheels", Kind::Trailed), ("The links meet", Kind::Mounted)] {
            assert_eq!(text.contains(part), plow.kind() == kind, "{name}: {part}: {text}");
        }
        // A walking plow is pulled by a team, at a team's pace.
        let has_team = plow.kind() == Kind::Walking;
        assert_eq!(text.contains("team"), has_team, "{name}: {text}");
        assert_eq!(text.contains("tractor"), !has_team, "{name}: {text}");
        assert_eq!(text.contains("soil at 3.2 km/h"), has_team, "{name}: {text}");
        let has_tail_wheel = matches!(plow.tail, Tail::Wheel(_));
        assert_eq!(text.contains("tail wheel"), has_tail_wheel, "{name}: {text}");
        let holes = plow.plow_hitch.holes.len() * plow.tractor_hitch.holes.len();
        let rows = text.lines().filter(|line| line.matches(" to ").count() == 3).count();
        // A light plow is lifted in some pairs, which then have no row.
        assert!(rows * 2 >= holes, "{name}: {rows} of {holes} pairs of holes can be: {text}");
        kinds.push(plow.kind());
    }
    for kind in [Kind::Trailed, Kind::SemiMounted, Kind::Mounted, Kind::Walking] {
        assert!(kinds.contains(&kind), "no example of {kind:?}");
    }
}

#[test]
fn the_page_of_each_example_is_one_page() {
    let folder = Scratch::new();
    let page = folder.path("page.pdf");
    for (file, _) in example_plows() {
        is_one_page(&["statics", &file, "-o", &page], &page);
    }
}

/// The same for the diagram for the wall; a top view comes in where the description has a tractor.
#[test]
fn the_wall_diagram_of_each_example_is_one_page_and_names_what_carries_it() {
    let folder = Scratch::new();
    let (page, drawing) = (folder.path("wall.pdf"), folder.path("wall.svg"));
    for (file, plow) in example_plows() {
        is_one_page(&["statics", &file, "--wall", &page], &page);
        stdout_of(["statics", &file, "--wall", &drawing]).unwrap();
        let text = fs::read_to_string(&drawing).unwrap();
        let parts = plow.part_names();
        assert_has(&text, &["weight ", "soil ", "pull ", parts.front_load, parts.tail_load]);
        assert_has(&text, &["(invented)", "Engine off"]);
        assert_eq!(text.contains("from above, travel"), plow.tractor.is_some(), "{file}");
        // Found on the sheet of the trailed plow: what it says of usual heights was cut short.
        assert!(!text.contains('…'), "{file}: a sentence is cut short");
    }
    let refused = hitchwright(["statics", "no-such.toml", "--wall", "x.doc"], 2).unwrap();
    assert!(refused.stderr.contains("--wall x.doc"), "{}", refused.stderr);
}

/// The kinds are told apart by their parts: parts of two kinds together, or too few, are refused by name.
#[test]
fn parts_that_belong_to_no_one_kind_are_refused() {
    let folder = Scratch::new();
    let said = |text: String| hitchwright(["statics", &folder.write("plow.toml", &text)], 1).unwrap().stderr;
    let no_wheels = said(TWO_BOTTOM.replace("[front_wheels]\ndiameter = \"600 mm\"\nruns_in = \"land\"", ""));
    assert!(no_wheels.contains("a trailed plow needs [front_wheels]"), "{no_wheels}");
    let two_tails = said(format!("{TWO_BOTTOM}\n[heel]\nx = \"-1.5 m\"\nresistance = 0.3\n"));
    assert!(two_tails.contains("one of [tail_wheel], [rolling_landside] and [heel]"), "{two_tails}");
    let links = said(format!("{TWO_BOTTOM}\n[lower_links]\nlength = \"0.9 m\"\n"));
    assert!(links.contains("[front_wheels]") && links.contains("semi-mounted"), "{links}");
    let along = include_str!("../../sample-runs/plows/three-bottom-mounted.toml")
        .replace("plow_hole = \"2\"", "plow_hole = \"1\"")
        .replace("tractor_z = \"460 mm", "tractor_z = \"180 mm");
    let parallel = said(along);
    assert!(parallel.contains("top link and lower links meet") && parallel.contains("nowhere"), "{parallel}");
}

/// Points of every polyline of an SVG in this stroke.
fn polylines(svg: &str, stroke: &str) -> Vec<Vec<(f64, f64)>> {
    tags(svg, "<polyline").filter(|tag| tag.contains(stroke)).map(|tag| points(tag, 1.0)).collect()
}

/// Heights of furrow bottom and land in a picture, and where the lowest points of its wheels are, the rearmost first.
fn ground_and_wheels(svg: &str) -> ((f64, f64), Vec<f64>) {
    // Floor, step, land.
    let ground = polylines(svg, "#7D7D7D").into_iter().find(|line| line.len() == 3).unwrap();
    let circles = tags(svg, "<circle").filter(|tag| tag.contains("fill=\"none\""));
    let mut wheels: Vec<(f64, f64)> = circles
        .map(|tag| ["cx", "cy", "r"].map(|name| number(tag, name)))
        // Pins and signs are smaller than any wheel.
        .filter(|[.., radius]| *radius > 60.0)
        .map(|[x, y, radius]| (x, y + radius))
        .collect();
    // An inclined wheel is an ellipse; its first line is the rim, which stands on the ground.
    if let Some(rim) = polylines(svg, "#191919").into_iter().find(|line| line.len() > 30) {
        wheels.push((rim[0].0, rim.iter().map(|point| point.1).fold(f64::MIN, f64::max)));
    }
    wheels.sort_by(|a, b| a.0.total_cmp(&b.0));
    ((ground[0].1, ground[1].1), wheels.into_iter().map(|wheel| wheel.1).collect())
}

/// In the pictures themselves, force picture and wall: the lowest point of each wheel is on the line that it runs on.
/// Found by a plowman: a tail wheel at the height of the land over an open furrow.
#[test]
fn every_wheel_stands_on_what_it_runs_on() {
    let (folder, mut plows) = (Scratch::new(), example_plows());
    for (name, from, to) in
        [("front-in-furrow.toml", "land", "furrow"), ("tail-on-land.toml", "furrow", "land")]
    {
        let runs_in = |where_it_runs| format!("runs_in = \"{where_it_runs}\"");
        let file = folder.write(name, &TWO_BOTTOM.replace(&runs_in(from), &runs_in(to)));
        let plow = read_plow(file.as_ref()).unwrap();
        plows.push((file, plow));
    }
    let picture = folder.path("picture.svg");
    let mut seen = 0;
    for (name, plow) in plows {
        for option in ["-o", "--wall"] {
            hitchwright(["statics", &name, option, &picture], 0).unwrap();
            let svg = fs::read_to_string(&picture).unwrap();
            let ((floor, land), wheels) = ground_and_wheels(&svg);
            assert!(floor > land + 20.0, "{name} {option}: floor {floor}, land {land}");
            let mut wanted = Vec::new();
            if matches!(plow.tail, Tail::Wheel(_) | Tail::RollingLandside(_)) {
                wanted.push(plow.tail.runs_in());
            }
            wanted.extend(plow.front.wheels().map(FrontWheels::runs_in));
            assert_eq!(wheels.len(), wanted.len(), "{name} {option}: {wheels:?}");
            for (lowest, runs_in) in wheels.iter().zip(wanted) {
                let line = if runs_in == RunsIn::Furrow { floor } else { land };
                assert!((lowest - line).abs() <= 3.0, "{name} {option}: {lowest}, {runs_in:?} at {line}");
                seen += 1;
            }
        }
    }
    assert!(seen >= 20, "{seen}");
}

/// A description from before `runs_in` opens, and is told of, as is a run that was stored with one.
#[test]
fn a_description_without_runs_in_opens_with_a_notice() {
    let folder = Scratch::new();
    let notice = "tail_wheel has no runs_in: taken to run in the furrow";
    let without = |text: &str| -> String {
        text.split_inclusive('\n').filter(|line| !line.starts_with("runs_in")).collect()
    };
    let old = hitchwright(["statics", &folder.write("old.toml", &without(TWO_BOTTOM))], 0).unwrap();
    assert!(old.stderr.contains(notice), "{}", old.stderr);
    let now = hitchwright(["statics", &sample_arg("plows/two-bottom.toml")], 0).unwrap();
    assert!(!now.stderr.contains("runs_in"), "{}", now.stderr);
    assert_eq!(old.stdout, now.stdout, "the default is the furrow");
    let run_folder = folder.path("run");
    copy_run(&sample("runs/balanced"), run_folder.as_ref()).unwrap();
    let text = fs::read_to_string(sample("runs/balanced/run.toml")).unwrap();
    assert!(text.contains("runs_in = \"furrow\""), "{text}");
    let said_with = |command: &str, description: &str| {
        folder.write("run/run.toml", description);
        let told = hitchwright([command, &run_folder], 0).unwrap();
        told.stdout + &told.stderr
    };
    for command in ["summary", "check"] {
        let now = said_with(command, &text);
        assert!(!now.contains("runs_in"), "{command}: {now}");
        let before = said_with(command, &without(&text));
        assert!(before.contains(notice), "{command}: {before}");
    }
}
