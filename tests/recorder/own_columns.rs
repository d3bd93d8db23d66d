//! A column of the user's own on its whole way: from a box's channel to every file and report, and back by an import.

use std::fs;
use std::path::Path;

use hitchwright_tests::command::{assert_has, hitchwright, json_of, stdout_of, text_of};
use hitchwright_tests::field::Field;
use hitchwright_tests::pdf::pages_of;
use hitchwright_tests::run_folder::run_in;
use hitchwright_tests::snapshot::{copy_run, snapshot};
use hitchwright_tests::{Doing, Outcome};
use sample_runs::sensors::Sensor;
use serde_json::Value;

const SENSORS: [Sensor; 4] = [Sensor::PULL, Sensor::TAIL, Sensor::DEPTH, Sensor::ENGINE_SPEED];
const HEADER: &str = "t_s,pull_n,tail_mm,depth_mm,own_engine_speed";

/// The cells of the column, which stands last.
fn cells(run: &Path) -> Outcome<Vec<String>> {
    let csv = fs::read_to_string(run.join("plow.csv")).doing(|| "read plow.csv".into())?;
    assert_eq!(csv.lines().next(), Some(HEADER));
    Ok(csv.lines().skip(1).filter_map(|line| line.rsplit(',').next()).map(str::to_owned).collect())
}

fn is_as_its_raw_bytes_give(run: &Path) -> Outcome<()> {
    let checked = json_of(["check", text_of(run), "--json"])?;
    assert_eq!(checked["rebuilds"], true, "{checked}");
    assert_eq!(checked["tables"][0]["columns"][3], "own_engine_speed", "{checked}");
    Ok(())
}

#[test]
fn a_column_of_ones_own_goes_all_the_way() -> Outcome<()> {
    let field = Field::new()?
        .with_sensors(&SENSORS)?
        .with_box("--channels engine-speed,pull,tail,depth --seed 12 --working-s 16 --speed-up 1");
    let recorded = field.record("")?.to_the_end()?;
    recorded.verify()?;
    let (run, field) = (recorded.run()?, &recorded.field);
    let run_arg = text_of(&run);
    let readings = cells(&run)?;
    let package: Value = serde_json::from_slice(&fs::read(run.join("datapackage.json")).unwrap()).unwrap();
    let of_package = &package["resources"][0]["schema"]["fields"][4];
    assert_eq!((&of_package["name"], &of_package["unit"]), (&"own_engine_speed".into(), &"1/min".into()));
    let said = fs::read_to_string(run.join("run.toml")).unwrap();
    assert_has(&said, &["measures = \"other\"", "name = \"engine speed\"", "unit = \"1/min\""]);
    is_as_its_raw_bytes_give(&run)?;

    let again = field.path("rebuilt");
    stdout_of(["check", run_arg, "--rebuild-into", text_of(&again)])?;
    let tables = ["plow.csv", "events.csv", "datapackage.json"];
    let bytes = |folder: &Path, name: &str| fs::read(folder.join(name)).unwrap();
    assert!(tables.iter().all(|name| bytes(&run, name) == bytes(&again, name)));

    // By another description, the unit that it names goes with the readings.
    let (other, renamed) = (field.path("other.toml"), field.path("renamed"));
    let described = fs::read_to_string(field.plow()).unwrap();
    fs::write(&other, described.replace("1/min", "rev/min")).unwrap();
    stdout_of(["check", run_arg, "--rebuild-into", text_of(&renamed), "--plow", text_of(&other)])?;
    assert_eq!(bytes(&renamed, "plow.csv"), bytes(&run, "plow.csv"));
    let package = String::from_utf8(bytes(&renamed, "datapackage.json")).unwrap();
    assert_has(&package, &["\"unit\": \"rev/min\"", "\"unit\": \"N\""]);

    let torn = field.path("torn");
    copy_run(&run, &torn)?;
    let csv = bytes(&run, "plow.csv");
    fs::write(torn.join("plow.csv"), &csv[..csv.len() - 3001]).unwrap();
    fs::remove_file(torn.join("datapackage.json")).unwrap();
    stdout_of(["check", "--repair", text_of(&torn)])?;
    assert!(tables.iter().all(|name| bytes(&run, name) == bytes(&torn, name)));

    let before = snapshot(&run)?;
    let plain = json_of(["summary", run_arg, "--json"])?;
    let own = &plain["own_columns"][0];
    assert_eq!((&own["column"], &own["name"]), (&"own_engine_speed".into(), &"engine speed".into()));
    assert_eq!((&own["unit"], &own["gaps"], own.get("spectrum")), (&"1/min".into(), &0.into(), None));
    let mean = own["mean"].as_f64().unwrap();
    let pull_n = plain["pull"]["mean_n"]["value"].as_f64().unwrap();
    assert!((mean - (1850.0 - 0.012 * pull_n)).abs() < 1.0, "{own} at {pull_n} N");
    assert!(own["least"].as_f64() < own["mean"].as_f64() && own["mean"].as_f64() < own["most"].as_f64());
    let (rows, all) =
        (own["rows"].as_u64().unwrap() as usize, plain["quality"]["readings"].as_u64().unwrap());
    assert!(rows.abs_diff(all as usize) <= 2 && rows < readings.len(), "{rows} of {all}");
    let spectrum = &json_of(["summary", run_arg, "--json", "--spectra"])?["own_columns"][0]["spectrum"];
    let bins = spectrum["frequency_hz"].as_array().unwrap().len();
    assert!(bins > 100 && spectrum["density"].as_array().unwrap().len() == bins);
    assert_eq!((&spectrum["window"], &spectrum["overlap_share"]), (&"hann".into(), &0.5.into()));
    let text = stdout_of(["summary", run_arg])?;
    let last = text.trim_end().lines().last().unwrap();
    assert_has(&text, &["\nyour own columns in the working part, on which no verdict is built\n"]);
    assert!(last.starts_with("  engine speed: mean 1") && last.ends_with(" rows, no gaps)"), "{last}");
    let page = field.path("page.pdf");
    hitchwright(["summary", run_arg, "-o", text_of(&page)], 0)?;
    assert_eq!(pages_of(&page)?, 1);
    assert_eq!(snapshot(&run)?, before, "looking changes nothing");

    let passes = field.path("passes");
    stdout_of(["passes", run_arg, "--out", text_of(&passes)])?;
    let pass = run_in(&passes)?;
    let of_pass = cells(&pass)?;
    assert!(readings.windows(of_pass.len()).any(|piece| piece == of_pass), "a pass is a piece of it");
    is_as_its_raw_bytes_give(&pass)?;

    // Its own table, as if another logger had written it.
    let (csv, imported) = (run.join("plow.csv"), field.path("imported"));
    let plow = field.plow();
    let mapped = HEADER.split(',').flat_map(|name| ["--column".to_owned(), format!("{name}={name}")]);
    let words = [
        "import",
        text_of(&csv),
        "--plow",
        text_of(&plow),
        "--setting",
        "as-found",
        "--out",
        text_of(&imported),
    ];
    stdout_of(words.map(str::to_owned).into_iter().chain(mapped))?;
    let imported = run_in(&imported)?;
    assert_eq!(cells(&imported)?, readings);
    // It is one pass, and counts once.
    let twice = hitchwright(["compare", run_arg, "--against", text_of(&imported)], 1)?.stderr;
    assert_has(&twice, &["have the very same rows", "leave one of them out"]);
    let compared = json_of(["compare", run_arg, "--against", text_of(&pass), "--json"])?;
    let own = &compared["own_columns"][0];
    assert_eq!((&own["column"], &own["unit"]), (&"own_engine_speed".into(), &"1/min".into()));
    assert!((own["mean_a"].as_f64().unwrap() - mean).abs() < 1e-6, "{own}");
    assert!((own["mean_b"].as_f64().unwrap() - mean).abs() < 1.0, "{own}");
    Ok(())
}

#[test]
fn a_box_without_the_channel_is_refused_by_its_name() -> Outcome<()> {
    let field = Field::new()?.with_sensors(&SENSORS)?.with_box("");
    assert_has(&field.refused("")?, &["has no channel \"engine-speed\""]);
    Ok(())
}
