//! Every example description in `sample-runs/plows`, each kind of plow among them: `statics` says what its parts
//! carry, in words of that kind, and its page is one page.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use hitchwright_tests::binaries::Program;
use hitchwright_tests::pdf::pages_of;
use hitchwright_tests::process::run;
use hitchwright_tests::{Doing, Outcome};
use ingest::plow::{Kind, Tail, read_plow};

const LONG: Duration = Duration::from_secs(120);

fn examples() -> Outcome<Vec<PathBuf>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/plows");
    let mut files = Vec::new();
    for entry in fs::read_dir(&folder).doing(|| format!("list {}", folder.display()))? {
        files.push(entry.doing(|| "read an entry".to_owned())?.path());
    }
    files.sort();
    Ok(files)
}

#[test]
fn statics_of_each_example_speaks_of_its_own_parts() -> Outcome<()> {
    let mut kinds = Vec::new();
    for file in examples()? {
        let plow = read_plow(&file).doing(|| "read an example".to_owned())?;
        let parts = plow.part_names();
        assert!(plow.name.ends_with("(invented)"), "{} does not say that it is invented", plow.name);
        let name = file.to_string_lossy().into_owned();
        let text = run(Program::Hitchwright, ["statics", &name, "--all-holes"], LONG)?.expect_code(0)?.stdout;
        for part in [parts.front, parts.tail, parts.origin] {
            assert!(text.contains(part), "{name} has a {part}: {text}");
        }
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
        let has_tail_wheel = matches!(plow.tail(), Some(Tail::Wheel(_)));
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
    for (i, file) in examples()?.into_iter().enumerate() {
        let page = folder.path().join(format!("{i}.pdf"));
        let (file, out) = (file.to_string_lossy().into_owned(), page.to_string_lossy().into_owned());
        for paper in ["a4", "letter"] {
            let args = ["statics", &file, "-o", &out, "--paper", paper, "--units", "us"];
            run(Program::Hitchwright, args, LONG)?.expect_code(0)?;
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
    for file in examples()? {
        let plow = read_plow(&file).doing(|| "read an example".to_owned())?;
        let file = file.to_string_lossy().into_owned();
        for paper in ["a4", "letter"] {
            let args = ["statics", &file, "--wall", &pdf, "--paper", paper, "--units", "us"];
            run(Program::Hitchwright, args, LONG)?.expect_code(0)?;
            assert_eq!(pages_of(&page)?, 1, "{file} on {paper}");
        }
        run(Program::Hitchwright, ["statics", &file, "--wall", &svg], LONG)?.expect_code(0)?;
        let text = fs::read_to_string(&drawing).doing(|| "read the drawing".to_owned())?;
        let parts = plow.part_names();
        for name in
            ["weight ", "soil ", "pull ", parts.front_load, parts.tail_load, "(invented)", "Engine off"]
        {
            assert!(text.contains(name), "{file} lacks {name}");
        }
        assert_eq!(text.contains("from above, travel"), plow.tractor.is_some(), "{file}");
        // Found on the sheet of the trailed plow: what it says of usual heights was cut short.
        assert!(!text.contains('…'), "{file}: a sentence is cut short");
    }
    let refused =
        run(Program::Hitchwright, ["statics", "no-such.toml", "--wall", "x.doc"], LONG)?.expect_code(2)?;
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
        Ok(run(Program::Hitchwright, ["statics", &file], LONG)?.expect_code(1)?.stderr)
    };
    let no_wheels = said(trailed.replace("[front_wheels]\ndiameter = \"600 mm\"", ""))?;
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
