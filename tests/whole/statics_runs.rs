//! `statics --runs`: the stored runs of the virtual plow taken together, by the binary, against what the virtual
//! plow knows of itself.

use std::fs;

use hitchwright_tests::command::hitchwright;
use hitchwright_tests::process::Ended;
use hitchwright_tests::{Doing, Failure, Outcome};
use serde_json::Value;

const SAMPLES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-runs");

fn together(plow: &str, runs: &[&str], more: &[&str], code: i32) -> Outcome<Ended> {
    let plow = format!("{SAMPLES}/plows/{plow}.toml");
    let runs: Vec<String> = runs.iter().map(|run| format!("{SAMPLES}/runs/{run}")).collect();
    let mut args = vec!["statics", &plow];
    args.extend(more);
    args.push("--runs");
    args.extend(runs.iter().map(String::as_str));
    hitchwright(args, code)
}

/// A figure of the truth file of a stored run.
fn truth(run: &str, key: &str) -> Outcome<f64> {
    let path = format!("{SAMPLES}/runs/{run}.truth.toml");
    let text = fs::read_to_string(&path).doing(|| format!("read {path}"))?;
    let table: toml::Table = text.parse().doing(|| format!("read {path}"))?;
    table.get(key).and_then(toml::Value::as_float).ok_or_else(|| Failure(format!("{path} has no {key}")))
}

fn holds(interval: &Value, value: f64) -> bool {
    let end = |key: &str| interval[key].as_f64().unwrap_or(f64::NAN);
    end("low") <= value && value <= end("high")
}

#[test]
fn three_runs_together_hold_the_true_soil_and_the_true_balance_of_each() -> Outcome<()> {
    let names = ["too-flat", "balanced", "too-steep"];
    let ended = together("two-bottom", &names, &["--json"], 0)?;
    let found: Value = serde_json::from_str(&ended.stdout).doing(|| "read the report".to_owned())?;
    assert!(holds(&found["soil_slope"], truth("balanced", "soil_slope")?), "{}", found["soil_slope"]);
    let runs = found["runs"].as_array().cloned().unwrap_or_default();
    assert_eq!(runs.len(), names.len());
    for (name, run) in names.into_iter().zip(&runs) {
        let b = truth(name, "balance_index")?;
        assert!(holds(&run["together"]["balance_index"], b), "{name}: {b} {run}");
        assert!(holds(&run["alone"]["balance_index"], b), "{name}: {b} {run}");
    }
    Ok(())
}

#[test]
fn runs_that_do_not_belong_together_are_refused() -> Outcome<()> {
    let twice = together("two-bottom", &["balanced", "balanced"], &[], 2)?.stderr;
    assert!(twice.contains("is named twice"), "{twice}");
    let other_plow = together("one-bottom-trailed", &["balanced", "too-flat"], &[], 1)?.stderr;
    assert!(other_plow.contains("it is a run of"), "{other_plow}");
    let worn = together("two-bottom", &["balanced", "worn-shares"], &[], 1)?.stderr;
    assert!(worn.contains("its shares were worn"), "{worn}");
    together("two-bottom", &["balanced", "too-flat"], &["--top"], 2)?;
    Ok(())
}

/// Found by hand: the other commands told of a description without `runs_in`, this one did not.
#[test]
fn a_description_without_runs_in_is_told_of() -> Outcome<()> {
    let text = fs::read_to_string(format!("{SAMPLES}/plows/two-bottom.toml"))
        .doing(|| "read the plow".to_owned())?;
    let kept: Vec<&str> = text.lines().filter(|line| !line.starts_with("runs_in")).collect();
    let folder = tempfile::tempdir().doing(|| "make a folder".to_owned())?;
    let path = folder.path().join("old.toml");
    fs::write(&path, kept.join("\n")).doing(|| "write the old description".to_owned())?;
    let run_folder = format!("{SAMPLES}/runs/balanced");
    let said = |plow: &str| -> Outcome<String> {
        Ok(hitchwright(["statics", plow, "--runs", &run_folder], 0)?.stderr)
    };
    let old = said(&path.display().to_string())?;
    assert!(old.contains("tail_wheel has no runs_in: taken to run in the furrow"), "{old}");
    let new = said(&format!("{SAMPLES}/plows/two-bottom.toml"))?;
    assert!(!new.contains("runs_in"), "{new}");
    Ok(())
}

/// Holes that were measured better since the run are the same holes; under the same name of a setting, others are not.
#[test]
fn a_run_is_taken_with_its_holes_measured_again_and_refused_with_others() -> Outcome<()> {
    let text = fs::read_to_string(format!("{SAMPLES}/plows/two-bottom.toml"))
        .doing(|| "read the plow".to_owned())?;
    let folder = tempfile::tempdir().doing(|| "make a folder".to_owned())?;
    let path = folder.path().join("plow.toml");
    let run_folder = format!("{SAMPLES}/runs/balanced");
    let with = |from: &str, to: &str, code: i32| -> Outcome<String> {
        assert!(text.contains(from), "{text}");
        fs::write(&path, text.replace(from, to)).doing(|| "write the description".to_owned())?;
        let plow = path.display().to_string();
        Ok(hitchwright(["statics", &plow, "--runs", &run_folder], code)?.stderr)
    };
    with("z = \"4 in ± 5 mm\"", "z = \"4.05 in ± 4 mm\"", 0)?;
    let other =
        with("plow_hole = \"4\"\ntractor_hole = \"4\"", "plow_hole = \"4\"\ntractor_hole = \"5\"", 1)?;
    assert!(other.contains("setting middle was other holes then"), "{other}");
    Ok(())
}
