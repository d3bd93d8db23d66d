//! Plows without a tail-wheel spring, from another logger's CSV to the verdict and the page: a mounted plow with a cell in
//! its top link, one with cells in all links and no pull, a walking plow with its heel on a cell, and a trailed plow of
//! which the inclination of the drawbar is all that is known besides pull and depth.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::fs;
use std::path::{Path, PathBuf};

use hitchwright_tests::Outcome;
use hitchwright_tests::command::{hitchwright, sample, stdout_of, text_of};
use hitchwright_tests::pdf::pages_of;
use hitchwright_tests::process::Ended;
use hitchwright_tests::run_folder::runs_in;
use ingest::plow::{Plow, read_plow};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;
use statics::plow_model::{PlowModel, link_forces_n};
use statics::predict::nominal;
use tempfile::TempDir;

const RATE_HZ: f64 = 50.0;

/// A column of the file, its mean while the plow works, and the slow noise about it, standard deviation.
type Column = (&'static str, f64, f64);

/// 5 s above the ground, 60 s in it, 5 s above it again.
fn logged(columns: &[Column]) -> String {
    let mut rng = ChaCha8Rng::seed_from_u64(7);
    let mut text = String::from("t_s");
    columns.iter().for_each(|(name, ..)| text += &format!(",{name}"));
    text.push('\n');
    let mut slow = vec![0.0; columns.len()];
    for row in 0..(70.0 * RATE_HZ) as usize {
        let t_s = row as f64 / RATE_HZ;
        let works = (5.0..65.0).contains(&t_s);
        text += &format!("{t_s:.3}");
        for ((_, mean, sd), slow) in columns.iter().zip(&mut slow) {
            // A first-order process with a time constant of 0.2 s and a standard deviation of 1.
            let step: f64 = (0..12).map(|_| rng.random_range(-0.5..0.5)).sum();
            *slow = 0.9 * *slow + (1.0f64 - 0.81).sqrt() * step;
            text += &format!(",{:.4}", if works { mean + sd * *slow } else { 0.001 * sd * step });
        }
        text.push('\n');
    }
    text
}

struct Imported {
    folder: TempDir,
    run: PathBuf,
    said: Ended,
}

fn imported(plow: &Path, setting: &str, columns: &[Column]) -> Outcome<Imported> {
    let folder = tempfile::tempdir().unwrap();
    let (csv, out) = (folder.path().join("logger.csv"), folder.path().join("runs"));
    fs::write(&csv, logged(columns)).unwrap();
    let mut arguments: Vec<String> = vec!["import".into(), text_of(&csv).into()];
    for (option, value) in [("--plow", text_of(plow)), ("--setting", setting), ("--out", text_of(&out))] {
        arguments.extend([option.to_owned(), value.to_owned()]);
    }
    for name in std::iter::once("t_s").chain(columns.iter().map(|column| column.0)) {
        arguments.extend(["--column".to_owned(), format!("{name}={name}")]);
    }
    let said = hitchwright(&arguments, 0)?;
    let run = runs_in(&out)?.pop().unwrap();
    Ok(Imported { folder, run, said })
}

impl Imported {
    fn summary(&self, options: &[&str]) -> Outcome<String> {
        let arguments: Vec<&str> =
            ["summary", text_of(&self.run)].into_iter().chain(options.iter().copied()).collect();
        stdout_of(&arguments)
    }

    fn json(&self) -> Outcome<Value> {
        Ok(serde_json::from_str(&self.summary(&["--json"])?).unwrap())
    }

    /// The page in both sizes is one page.
    fn is_one_page(&self) -> Outcome<()> {
        let page = self.folder.path().join("page.pdf");
        for paper in ["a4", "letter"] {
            self.summary(&["-o", text_of(&page), "--paper", paper, "--units", "us"])?;
            assert_eq!(pages_of(&page)?, 1, "{paper}");
        }
        Ok(())
    }
}

/// The plow as described with a soil force as it is likely, its balance index, and what its parts carry.
struct NominalLoads {
    setting: String,
    pull_n: f64,
    front_n: f64,
    tail_n: f64,
    index: f64,
    links_n: Option<(f64, f64)>,
    drawbar_deg: f64,
    depth_mm: f64,
}

fn nominal_loads(plow: &Plow, pull_n: f64) -> NominalLoads {
    let (name, setting) = plow.settings.first_key_value().unwrap();
    let nominal = nominal(plow, setting, pull_n).unwrap();
    let loads = nominal.state.side.loads().unwrap();
    let links = PlowModel::of(plow).links(&nominal.state.inputs).ok();
    NominalLoads {
        setting: name.clone(),
        pull_n: loads.pull_n,
        front_n: loads.front_load_n,
        tail_n: loads.tail_load_n,
        index: loads.balance_index,
        links_n: links.map(|links| link_forces_n(&links, loads.pull_x_n, loads.front_load_n)),
        drawbar_deg: loads.drawbar_slope.atan().to_degrees(),
        depth_mm: plow.bottoms.depth.m() * 1000.0,
    }
}

fn holds(json: &Value, dotted: &str, truth: f64) -> bool {
    let figure = dotted.split('.').fold(json, |value, key| &value[key]);
    let end = |key: &str| figure[key].as_f64().unwrap_or_else(|| panic!("{dotted}: {figure}"));
    end("low") <= truth && truth <= end("high")
}

#[test]
fn a_mounted_plow_is_judged_by_its_top_link() -> Outcome<()> {
    let file = sample("plows/three-bottom-mounted.toml");
    let plow = read_plow(&file).unwrap();
    let truth = nominal_loads(&plow, 11_000.0);
    let (lower_n, top_n) = truth.links_n.unwrap();
    assert!(truth.front_n > 0.0 && truth.tail_n > 0.0);
    let depth = ("depth_mm", truth.depth_mm, 8.0);
    let top = ("top_link_n", top_n, 60.0);
    let with_pull = imported(&file, &truth.setting, &[("pull_n", truth.pull_n, 400.0), top, depth])?;
    let with_links = imported(&file, &truth.setting, &[("lower_links_n", lower_n, 400.0), top, depth])?;
    for run in [&with_pull, &with_links] {
        let json = run.json()?;
        assert!(holds(&json, "statics.balance_index", truth.index), "{} {}", json["statics"], truth.index);
        assert!(holds(&json, "top_link.mean_n", top_n) && json["tail_load"].is_null(), "{json}");
        assert_eq!(json["judged_by"], "top-link force");
        let pull_n = json["pull"]["mean_n"]["value"].as_f64().unwrap();
        assert!((pull_n / truth.pull_n - 1.0).abs() < 0.02, "{pull_n} {}", truth.pull_n);
        let text = run.summary(&[])?;
        assert!(
            text.contains("top-link force, mean") && text.contains("bobbing of the top-link force"),
            "{text}"
        );
        assert!(!text.contains("tail wheel") && !text.contains("tail load"), "{text}");
        run.is_one_page()?;
    }
    assert!(with_links.summary(&[])?.contains("worked out from the lower links and top link channels"));
    Ok(())
}

#[test]
fn a_walking_plow_is_judged_by_its_heel() -> Outcome<()> {
    let file = sample("plows/one-bottom-walking.toml");
    let plow = read_plow(&file).unwrap();
    let truth = nominal_loads(&plow, 900.0);
    assert!(truth.front_n > 0.0 && truth.tail_n > 0.0, "{} {}", truth.front_n, truth.tail_n);
    let columns = [
        ("pull_n", truth.pull_n, 40.0),
        ("depth_mm", truth.depth_mm, 6.0),
        ("tail_load_n", truth.tail_n, 20.0),
    ];
    let run = imported(&file, &truth.setting, &columns)?;
    let json = run.json()?;
    assert!(holds(&json, "statics.balance_index", truth.index), "{} {}", json["statics"], truth.index);
    assert!(holds(&json, "tail_load.mean_n", truth.tail_n) && json["top_link"].is_null(), "{json}");
    assert_eq!(json["judged_by"], "heel load");
    let text = run.summary(&[])?;
    assert!(text.contains("heel load, mean") && !text.contains("tail wheel"), "{text}");
    run.is_one_page()
}

/// There is no load to look at: no bobbing is said to be there, or not, and the strip says that none was measured.
#[test]
fn the_inclination_of_the_drawbar_is_enough_with_a_pitch_and_not_without() -> Outcome<()> {
    let file = sample("plows/two-bottom.toml");
    let plow = read_plow(&file).unwrap();
    let truth = nominal_loads(&plow, 7_500.0);
    let pull = ("pull_n", truth.pull_n, 300.0);
    let depth = ("depth_mm", truth.depth_mm, 8.0);
    let inclination = ("drawbar_deg", truth.drawbar_deg, 0.3);
    let posed = imported(&file, &truth.setting, &[pull, depth, inclination, ("pitch_deg", 0.0, 0.2)])?;
    let json = posed.json()?;
    assert!(holds(&json, "statics.balance_index", truth.index), "{} {}", json["statics"], truth.index);
    for absent in ["tail_load", "front_load", "top_link", "judged_by", "bobbing", "pull_to_tail"] {
        assert!(json[absent].is_null(), "{absent}: {}", json[absent]);
    }
    let text = posed.summary(&[])?;
    assert!(text.contains("no load was measured in which bobbing could be seen"), "{text}");
    assert!(text.contains("they rest on the inclination of the drawbar"), "{text}");
    posed.is_one_page()?;
    for too_little in [vec![pull, depth], vec![pull, depth, inclination]] {
        let run_of = imported(&file, &truth.setting, &too_little)?;
        let would_do = "a verdict needs the pull, depth_mm and one of tail_mm (tail-wheel spring)";
        let notices = format!("{}{}", run_of.said.stdout, run_of.said.stderr);
        assert!(notices.contains(would_do), "{notices}");
        let ended = hitchwright(["summary", text_of(&run_of.run)], 1)?;
        assert!(ended.stderr.contains(would_do) && ended.stderr.lines().count() == 1, "{}", ended.stderr);
    }
    Ok(())
}
