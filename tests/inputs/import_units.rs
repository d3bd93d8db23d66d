//! `import` takes a column in every unit that a plow description may use, and converts by the published factor.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::collections::BTreeSet;
use std::fs;

use hitchwright_tests::Outcome;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::{assert_has, text_of};
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::{Ended, run};
use hitchwright_tests::run_folder::{run_in, runs_in};
use ingest::plow::ChannelRole;
use ingest::quantity::{Dimension, UNITS};

/// One of each unit in the SI unit. NIST SP 811 (2008), Appendix B.8, as printed there to seven digits (bold
/// there and so exact: in, ft, kgf, mph, min, h); SI prefixes by its Table 5. An angle is printed in radians.
/// Confirmed from the legal definitions and other tables: in, ft, kgf, lbf, mph, kn, lbf/in. From memory: km/h, deg,
/// min, h.
const PUBLISHED: &[(&str, f64)] = &[
    ("m", 1.0),
    ("cm", 1.0e-2),
    ("mm", 1.0e-3),
    ("in", 2.54e-2),
    ("ft", 3.048e-1),
    ("N", 1.0),
    ("kN", 1.0e3),
    ("daN", 1.0e1),
    ("kgf", 9.80665),
    ("lbf", 4.448222),
    ("m/s", 1.0),
    ("km/h", 2.777778e-1),
    ("mph", 4.4704e-1),
    ("kn", 5.144444e-1),
    ("deg", 1.745329e-2),
    ("rad", 1.0),
    ("N/m", 1.0),
    ("N/mm", 1.0e3),
    ("kN/m", 1.0e3),
    ("lbf/in", 1.751268e2),
    ("s", 1.0),
    ("ms", 1.0e-3),
    ("us", 1.0e-6),
    ("min", 6.0e1),
    ("h", 3.6e3),
];
/// Half of the last digit of seven.
const PRINTED: f64 = 5e-7;

fn published(symbol: &str) -> f64 {
    PUBLISHED.iter().find(|(known, _)| *known == symbol).map(|(_, factor)| *factor).unwrap()
}

#[test]
fn the_table_of_units_is_the_published_one() {
    let ours: BTreeSet<_> = UNITS.iter().map(|unit| unit.symbol).collect();
    let theirs: BTreeSet<_> = PUBLISHED.iter().map(|(symbol, _)| *symbol).collect();
    assert_eq!(ours, theirs, "each unit needs its published factor here");
    for unit in UNITS {
        // Angles are kept in degrees and published in radians: what is held together is their ratio.
        let kept = if unit.dimension == Dimension::Angle { published("deg") } else { 1.0 };
        let off = unit.factor * kept / published(unit.symbol) - 1.0;
        assert!(off.abs() < PRINTED, "{}: {} is off by {off:e}", unit.symbol, unit.factor);
    }
}

/// A field with a logger's file of two columns, `T` and `X`, and what `import` made of it.
fn import(text: &str, columns: &[&str], more: &[&str]) -> Outcome<(Field, Ended)> {
    let field = Field::new()?;
    let (file, plow, runs) = (field.path("logger.csv"), field.plow(), field.runs());
    fs::write(&file, text).unwrap();
    let args = [
        "import",
        text_of(&file),
        "--plow",
        text_of(&plow),
        "--setting",
        "as-found",
        "--out",
        text_of(&runs),
    ];
    let columns = columns.iter().flat_map(|column| ["--column", *column]);
    let args = args.into_iter().chain(columns).chain(more.iter().copied());
    let ended = run(Program::Hitchwright, args, SOON)?;
    Ok((field, ended))
}

/// The one column of the one run, with its times.
fn imported(field: &Field) -> Outcome<Vec<(f64, f64)>> {
    let folder = run_in(&field.runs())?;
    let csv = fs::read_to_string(folder.join("plow.csv")).unwrap();
    let row = |line: &str| {
        let (t_s, value) = line.split_once(',').unwrap();
        (t_s.parse().unwrap(), value.parse().unwrap())
    };
    Ok(csv.lines().skip(1).map(row).collect())
}

#[test]
fn each_unit_of_a_reading_is_converted() -> Outcome<()> {
    for role in ChannelRole::ALL {
        let own = role.column_unit();
        let mut tried = 0;
        for unit in UNITS.iter().filter(|unit| unit.dimension == own.dimension) {
            let mapping = format!("{}=X:{}", role.column(), unit.symbol);
            let (field, ended) = import("T,X\n0,0\n0.5,-100\n1,2500\n", &["t_s=T", &mapping], &[])?;
            ended.expect_code(0)?;
            let factor = published(unit.symbol) / published(role.column_unit().symbol);
            let rows = imported(&field)?;
            assert_eq!(rows.len(), 3);
            for ((_, got), wanted) in rows.iter().zip([0.0, -100.0 * factor, 2500.0 * factor]) {
                // A cell has two decimals at least; a published factor seven digits.
                let most = 5.01e-3_f64.max(2.0 * PRINTED * wanted.abs());
                assert!((got - wanted).abs() <= most, "{mapping}: {got} is not {wanted}");
            }
            tried += 1;
        }
        assert!(tried >= 2, "{}", role.column());
    }
    Ok(())
}

#[test]
fn each_unit_of_time_is_converted() -> Outcome<()> {
    for unit in UNITS.iter().filter(|unit| unit.dimension == Dimension::Time) {
        // 2 s in this unit, as a logger would write it.
        let two = 2.0 / published(unit.symbol);
        let text = format!("T,X\n{},1\n{},2\n{},3\n", 10.0 * two, 10.5 * two, 11.0 * two);
        let (field, ended) = import(&text, &[&format!("t_s=T:{}", unit.symbol), "pull_n=X:N"], &[])?;
        ended.expect_code(0)?;
        let times: Vec<_> = imported(&field)?.into_iter().map(|(t_s, _)| t_s).collect();
        let off = times.iter().zip([0.0, 1.0, 2.0]).map(|(got, wanted)| (got - wanted).abs());
        assert!(off.fold(0.0, f64::max) < 1e-5, "{}: {times:?}", unit.symbol);
    }
    Ok(())
}

#[test]
fn a_unit_that_does_not_fit_is_answered_with_those_that_do() -> Outcome<()> {
    let cases = [
        ("pull_n=X:in", "is no unit of a force (units: N, kN, daN, kgf, lbf)"),
        ("pull_n=X:kg", "a scale's kilograms are \"kgf\""),
        ("depth_mm=X:N", "is no unit of a length (units: m, cm, mm, in, ft)"),
        ("speed_mps=X:knots", "is no unit of a speed (units: m/s, km/h, mph, kn)"),
        ("pitch_deg=X:grad", "is no unit of an angle (units: deg, rad)"),
        ("t_s=X:days", "is no unit of a time (units: s, ms, us, min, h)"),
    ];
    for (mapping, wanted) in cases {
        let (field, ended) = import("T,X\n0,0\n1,1\n", &[mapping], &["--rate", "1"])?;
        let ended = ended.expect_code(2)?;
        assert!(ended.stderr.contains(wanted), "{mapping}: {}", ended.stderr);
        assert!(ended.stderr.contains(mapping), "{mapping}: {}", ended.stderr);
        assert_eq!(runs_in(&field.runs())?.len(), 0);
    }
    Ok(())
}

#[test]
fn shares_and_soil_of_the_day_are_kept() -> Outcome<()> {
    let more = ["--share", "worn", "--soil", "sandy, dry", "--field", "north", "--note", "no rain"];
    let (field, ended) = import("T,X\n0,0\n1,1\n", &["t_s=T", "pull_n=X:N"], &more)?;
    ended.expect_code(0)?;
    let folder = run_in(&field.runs())?;
    let toml = fs::read_to_string(folder.join("run.toml")).unwrap();
    let run_part = toml.split("[plow").next().unwrap_or_default();
    assert_has(
        run_part,
        &["share = \"worn\"", "soil = \"sandy, dry\"", "field = \"north\"", "note = \"no rain\""],
    );
    let (_, ended) = import("T,X\n0,0\n1,1\n", &["t_s=T", "pull_n=X:N"], &["--share", "new"])?;
    let ended = ended.expect_code(2)?;
    assert!(ended.stderr.contains("shares are sharp, blunt or worn"), "{}", ended.stderr);
    Ok(())
}
