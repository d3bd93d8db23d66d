//! `statics --try`: pins that are moved on paper, by the binary.

use hitchwright_tests::command::hitchwright;
use hitchwright_tests::process::Ended;
use hitchwright_tests::{Doing, Outcome};
use serde_json::Value;

const PLOW: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-runs/plows/two-bottom.toml");

fn tried(moves: &[&str], more: &[&str], code: i32) -> Outcome<Ended> {
    let mut args = vec!["statics", PLOW, "--setting", "middle"];
    args.extend(moves.iter().flat_map(|one| ["--try", one]));
    args.extend(more);
    hitchwright(args, code)
}

/// What a move to another pair of holes does is what the table of holes has for that pair.
#[test]
fn a_move_to_holes_is_the_row_of_those_holes() -> Outcome<()> {
    let ended = tried(&["tractor_hitch=+2 holes", "plow_hitch=hole 6"], &["--json"], 0)?;
    let report: Value = serde_json::from_str(&ended.stdout).doing(|| "read the report".to_owned())?;
    let then = &report["what_if"]["then"];
    assert_eq!((&then["plow_hole"], &then["tractor_hole"]), (&"6".into(), &"6".into()), "{then}");
    let holes = report["holes"].as_array().cloned().unwrap_or_default();
    let row = holes.iter().find(|row| row["plow_hole"] == "6" && row["tractor_hole"] == "6");
    assert!(row == Some(then), "the same draws give the same figures: {row:?} {then}");
    // Both ends up by as much keep the angle of the drawbar, and so the load on the tractor.
    let load_n = |of: &Value| of["tractor_load_n"]["value"].as_f64();
    let (now_n, then_n) = (load_n(&report["what_if"]["now"]), load_n(then));
    let kept = now_n.zip(then_n).is_some_and(|(now_n, then_n)| (now_n - then_n).abs() < 1e-6);
    assert!(kept, "{now_n:?} N and then {then_n:?} N");
    Ok(())
}

#[test]
fn a_place_that_is_not_there_is_refused_with_those_that_are() -> Outcome<()> {
    let beyond = tried(&["tractor_hitch=+9 holes"], &[], 1)?.stderr;
    assert!(beyond.contains("+9 holes from 4 at the tractor is not there"), "{beyond}");
    let typo = tried(&["tractor=+1 hole"], &[], 2)?.stderr;
    assert!(typo.contains("write tractor_hitch=+2 holes"), "{typo}");
    let washers = tried(&["plow_hitch=+2 washers"], &[], 1)?.stderr;
    assert!(washers.contains("[plow_hitch] has no washer in the description"), "{washers}");
    Ok(())
}

/// Told of a plow that is expected to be in balance: the pair for a tractor that slips is a balanced row of the table, and loads the tractor by what the line says.
#[test]
fn the_holes_for_a_slipping_tractor_are_balanced_and_load_it_more() -> Outcome<()> {
    let said = tried(&[], &["--pull", "7000 N", "--units", "si"], 0)?.stdout;
    let line = said.lines().find(|line| line.starts_with("If the drive wheels slip:")).unwrap_or_default();
    let after = |mark: &str| {
        let rest = line.split_once(mark).map_or("", |(_, rest)| rest);
        rest.split(' ').next().unwrap_or_default().to_owned()
    };
    let (tractor, plow, more_n) = (after(": hole "), after("tractor with hole "), after("puts "));
    let json = tried(&[], &["--pull", "7000 N", "--json"], 0)?.stdout;
    let report: Value = serde_json::from_str(&json).doing(|| "read the report".to_owned())?;
    let holes = report["holes"].as_array().cloned().unwrap_or_default();
    let load_n = |row: &Value| row["tractor_load_n"]["value"].as_f64();
    let now = holes.iter().find(|row| row["is_now"] == true);
    let then = holes.iter().find(|row| row["plow_hole"] == *plow && row["tractor_hole"] == *tractor);
    let gained_n = now.and_then(load_n).zip(then.and_then(load_n)).map(|(now_n, then_n)| then_n - now_n);
    let same = gained_n
        .zip(more_n.parse::<f64>().ok())
        .is_some_and(|(gained_n, said_n)| said_n > 0.0 && (gained_n - said_n).abs() <= 10.0);
    assert!(same, "{line}\n{gained_n:?} N and {more_n} N");
    let index = then.and_then(|row| row["balance_index"]["value"].as_f64());
    assert!(index.is_some_and(|index| index.abs() <= 0.25), "{index:?}");
    Ok(())
}
