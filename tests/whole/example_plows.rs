//! Every example description in `sample-runs/plows`, each kind of plow among them: `statics` says what its parts
//! carry, in words of that kind, and its page is one page.

#![allow(clippy::unwrap_used, clippy::expect_used)] // what cannot be made must stop the test

use std::fs;
use std::path::Path;

use hitchwright_tests::command::{assert_has, hitchwright, sample, samples_in, stdout_of};
use hitchwright_tests::pdf::pages_of;
use hitchwright_tests::snapshot::copy_run;
use hitchwright_tests::{Doing, Outcome};
use ingest::plow::{FrontWheels, Kind, RunsIn, Tail, read_plow};

#[test]
fn statics_of_each_example_speaks_of_its_own_parts() -> Outcome<()> {
    let mut kinds = Vec::new();
    for file in samples_in("plows")? {
        let plow = read_plow(&file).doing(|| "read an example".to_owned())?;
        let parts = plow.part_names();
        assert!(plow.name.ends_with("(invented)"), "{} does not say that it is invented", plow.name);
        let name = file.to_string_lossy().into_owned();
        let text = stdout_of(["statics", &name, "--all-holes"])?;
        assert_has(&text, &[parts.front, parts.tail, parts.origin]);
        for (part, kind) in [("front wheels", Kind::Trailed), ("The links meet", Kind::Mounted)] {
            assert_eq!(text.contains(part), plow.kind() == kind, "{name}: {part}: {text}");
        }
        // A walking plow is pulled by a team, at a team's pace.
        let has_team = plow.kind() == Kind::Walking;
        assert_eq!(
            (text.contains("team"), text.contains("tractor")),
            (has_team, !has_team),
            "{name}: {text}"
        );
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
    Ok(())
}

#[test]
fn the_page_of_each_example_is_one_page() -> Outcome<()> {
    let folder = tempfile::tempdir().doing(|| "make a folder".to_owned())?;
    for (i, file) in samples_in("plows")?.into_iter().enumerate() {
        let page = folder.path().join(format!("{i}.pdf"));
        let (file, out) = (file.to_string_lossy().into_owned(), page.to_string_lossy().into_owned());
        for paper in ["a4", "letter"] {
            let args = ["statics", &file, "-o", &out, "--paper", paper, "--units", "us"];
            hitchwright(args, 0)?;
            assert_eq!(pages_of(&page)?, 1, "{file} on {paper}");
        }
    }
    Ok(())
}

/// The same for the diagram for the wall; a top view comes in where the description has a tractor.
#[test]
fn the_wall_diagram_of_each_example_is_one_page_and_names_what_carries_it() -> Outcome<()> {
    let folder = tempfile::tempdir().doing(|| "make a folder".to_owned())?;
    let (page, drawing) = (folder.path().join("wall.pdf"), folder.path().join("wall.svg"));
    let (pdf, svg) = (page.to_string_lossy().into_owned(), drawing.to_string_lossy().into_owned());
    for file in samples_in("plows")? {
        let plow = read_plow(&file).doing(|| "read an example".to_owned())?;
        let file = file.to_string_lossy().into_owned();
        for paper in ["a4", "letter"] {
            let args = ["statics", &file, "--wall", &pdf, "--paper", paper, "--units", "us"];
            hitchwright(args, 0)?;
            assert_eq!(pages_of(&page)?, 1, "{file} on {paper}");
        }
        hitchwright(["statics", &file, "--wall", &svg], 0)?;
        let text = fs::read_to_string(&drawing).doing(|| "read the drawing".to_owned())?;
        let parts = plow.part_names();
        assert_has(&text, &["weight ", "soil ", "pull ", parts.front_load, parts.tail_load]);
        assert_has(&text, &["(invented)", "Engine off"]);
        assert_eq!(text.contains("from above, travel"), plow.tractor.is_some(), "{file}");
        // Found on the sheet of the trailed plow: what it says of usual heights was cut short.
        assert!(!text.contains('…'), "{file}: a sentence is cut short");
    }
    let refused = hitchwright(["statics", "no-such.toml", "--wall", "x.doc"], 2)?;
    assert!(refused.stderr.contains("--wall x.doc"), "{}", refused.stderr);
    Ok(())
}

/// The kinds are told apart by their parts: parts of two kinds together, or too few, are refused by name.
#[test]
fn parts_that_belong_to_no_one_kind_are_refused() -> Outcome<()> {
    let folder = tempfile::tempdir().doing(|| "make a folder".to_owned())?;
    let trailed = include_str!("../../sample-runs/plows/two-bottom.toml");
    let said = |text: String| -> Outcome<String> {
        let file = folder.path().join("plow.toml");
        fs::write(&file, text).doing(|| "write a description".to_owned())?;
        let file = file.to_string_lossy().into_owned();
        Ok(hitchwright(["statics", &file], 1)?.stderr)
    };
    let no_wheels = said(trailed.replace("[front_wheels]\ndiameter = \"600 mm\"\nruns_in = \"land\"", ""))?;
    assert!(no_wheels.contains("a trailed plow needs [front_wheels]"), "{no_wheels}");
    let two_tails = said(format!("{trailed}\n[heel]\nx = \"-1.5 m\"\nresistance = 0.3\n"))?;
    assert!(two_tails.contains("one of [tail_wheel], [rolling_landside] and [heel]"), "{two_tails}");
    let links = said(format!("{trailed}\n[lower_links]\nlength = \"0.9 m\"\n"))?;
    assert!(links.contains("[front_wheels]") && links.contains("semi-mounted"), "{links}");
    let along = include_str!("../../sample-runs/plows/three-bottom-mounted.toml")
        .replace("plow_hole = \"2\"", "plow_hole = \"1\"")
        .replace("tractor_z = \"460 mm", "tractor_z = \"180 mm");
    let parallel = said(along)?;
    assert!(parallel.contains("top link and lower links meet") && parallel.contains("nowhere"), "{parallel}");
    Ok(())
}

/// Points of every polyline of an SVG in this stroke.
fn polylines(svg: &str, stroke: &str) -> Vec<Vec<(f64, f64)>> {
    let lines = svg.lines().filter(|line| line.starts_with("<polyline") && line.contains(stroke));
    let numbers = |pair: &str| {
        let (x, y) = pair.split_once(',').expect("a point is x,y");
        (x.parse().expect("a number"), y.parse().expect("a number"))
    };
    lines
        .filter_map(|line| Some(line.split("points=\"").nth(1)?.split('"').next()?.trim()))
        .map(|points| points.split_whitespace().map(numbers).collect())
        .collect()
}

/// Heights of furrow bottom and land in a picture, and where the lowest points of its wheels are, the rearmost first.
fn ground_and_wheels(svg: &str) -> ((f64, f64), Vec<f64>) {
    let ground =
        polylines(svg, "#7D7D7D").into_iter().find(|line| line.len() == 3).expect("floor, step, land");
    let mut wheels = Vec::new();
    for line in svg.lines().filter(|line| line.starts_with("<circle") && line.contains("fill=\"none\"")) {
        let of = |name: &str| -> f64 {
            let value = line.split(name).nth(1).and_then(|rest| rest.split('"').next());
            value.expect("an attribute").parse().expect("a number")
        };
        // Pins and signs are smaller than any wheel.
        if of(" r=\"") > 60.0 {
            wheels.push((of(" cx=\""), of(" cy=\"") + of(" r=\"")));
        }
    }
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
fn every_wheel_stands_on_what_it_runs_on() -> Outcome<()> {
    let folder = tempfile::tempdir().doing(|| "make a folder".to_owned())?;
    let in_furrow = folder.path().join("front-in-furrow.toml");
    let text = include_str!("../../sample-runs/plows/two-bottom.toml");
    fs::write(&in_furrow, text.replace("runs_in = \"land\"", "runs_in = \"furrow\""))
        .doing(|| "write a description".to_owned())?;
    let on_land = folder.path().join("tail-on-land.toml");
    fs::write(&on_land, text.replace("runs_in = \"furrow\"", "runs_in = \"land\""))
        .doing(|| "write a description".to_owned())?;
    let mut seen = 0;
    for file in samples_in("plows")?.into_iter().chain([in_furrow, on_land]) {
        let plow = read_plow(&file).doing(|| "read an example".to_owned())?;
        let name = file.to_string_lossy().into_owned();
        for option in ["-o", "--wall"] {
            let picture = folder.path().join("picture.svg");
            let out = picture.to_string_lossy().into_owned();
            hitchwright(["statics", &name, option, &out], 0)?;
            let svg = fs::read_to_string(&picture).doing(|| "read the picture".to_owned())?;
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
    Ok(())
}

/// A description from before `runs_in` opens, and is told of, as is a run that was stored with one.
#[test]
fn a_description_without_runs_in_opens_with_a_notice() -> Outcome<()> {
    let folder = tempfile::tempdir().doing(|| "make a folder".to_owned())?;
    let notice = "tail_wheel has no runs_in: taken to run in the furrow";
    let without = |text: &str| -> String {
        text.lines().filter(|line| !line.starts_with("runs_in")).map(|line| format!("{line}\n")).collect()
    };
    let example = sample("plows/two-bottom.toml");
    let old = folder.path().join("old.toml");
    let text = include_str!("../../sample-runs/plows/two-bottom.toml");
    fs::write(&old, without(text)).doing(|| "write a description".to_owned())?;
    let statics = |file: &Path| -> Outcome<(String, String)> {
        let told = hitchwright(["statics", &file.to_string_lossy()], 0)?;
        Ok((told.stdout, told.stderr))
    };
    let (said, told) = statics(&old)?;
    assert!(told.contains(notice), "{told}");
    let (said_now, told_now) = statics(&example)?;
    assert!(!told_now.contains("runs_in"), "{told_now}");
    assert_eq!(said, said_now, "the default is the furrow");
    let run_folder = folder.path().join("run");
    copy_run(&sample("runs/balanced"), &run_folder)?;
    let description = run_folder.join("run.toml");
    let text = fs::read_to_string(&description).doing(|| "read run.toml".to_owned())?;
    assert!(text.contains("runs_in = \"furrow\""), "{text}");
    let of = |command: &str| -> Outcome<String> {
        let told = hitchwright([command, &run_folder.to_string_lossy()], 0)?;
        Ok(told.stdout + &told.stderr)
    };
    for command in ["summary", "check"] {
        fs::write(&description, &text).doing(|| "write run.toml".to_owned())?;
        let now = of(command)?;
        assert!(!now.contains("runs_in"), "{command}: {now}");
        fs::write(&description, without(&text)).doing(|| "write run.toml".to_owned())?;
        let before = of(command)?;
        assert!(before.contains(notice), "{command}: {before}");
    }
    Ok(())
}
