//! Plows without a tail-wheel spring, from another logger's CSV to the verdict and the page: a mounted plow with a cell in
//! its top link, one with cells in all links and no pull, a walking plow with its heel on a cell, and a trailed plow of
//! which the inclination of the drawbar is all that is known besides pull and depth.
use crate::{Scratch, is_one_page, sample_arg};
use hitchwright_tests::command::{assert_has, hitchwright, json_of, stdout_of, text_of};
use hitchwright_tests::process::Ended;
use hitchwright_tests::run_folder::run_in;
use ingest::plow::read_plow;
use ingest::quantity::Force;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::Value;
use statics::plow_model::{PlowModel, link_forces};
use statics::predict::nominal;
use statics::side::Loads;

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

/// A plow of `sample-runs` as described in its first setting, with a soil force as it is likely at a pull: what its
/// parts carry.
struct Example {
    file: String,
    setting: String,
    loads: Loads,
    /// Forces along lower links and top link in N, if it has them.
    links_n: Option<(f64, f64)>,
    depth_mm: f64,
}

impl Example {
    fn at_pull(file: &str, pull_n: f64) -> Self {
        let file = sample_arg(file);
        let plow = read_plow(file.as_ref()).unwrap();
        let (name, setting) = plow.settings.first_key_value().unwrap();
        let nominal = nominal(&plow, setting, Force::from_n(pull_n)).unwrap();
        let loads = nominal.side.loads().unwrap();
        assert!(loads.front_load.n() > 0.0 && loads.tail_load.n() > 0.0, "{loads:?}");
        let links = PlowModel::of(&plow).links(&nominal.state.inputs).ok();
        let forces = links.map(|links| link_forces(&links, loads.pull_x, loads.front_load));
        Self {
            setting: name.clone(),
            links_n: forces.map(|(lower, top)| (lower.n(), top.n())),
            depth_mm: plow.bottoms.depth.m() * 1000.0,
            file,
            loads,
        }
    }

    /// Imports a file of these columns as a run of the plow.
    fn imported(&self, columns: &[Column]) -> Imported {
        let folder = Scratch::new();
        let (csv, out) = (folder.write("logger.csv", &logged(columns)), folder.path("runs"));
        let mut words = vec!["import", &csv, "--plow", &self.file, "--setting", &self.setting, "--out", &out];
        let same = |name: &str| format!("{name}={name}");
        let named: Vec<String> =
            std::iter::once("t_s").chain(columns.iter().map(|column| column.0)).map(same).collect();
        words.extend(named.iter().flat_map(|name| ["--column", name]));
        let said = hitchwright(words, 0).unwrap();
        let run = text_of(&run_in(out.as_ref()).unwrap()).to_owned();
        Imported { folder, run, said }
    }
}

struct Imported {
    folder: Scratch,
    run: String,
    said: Ended,
}

impl Imported {
    /// The summary as text and as JSON, whose balance index must hold the plow's.
    fn summary(&self, of: &Example) -> (String, Value) {
        let json = json_of(["summary", &self.run, "--json"]).unwrap();
        let index = of.loads.balance_index;
        assert!(holds(&json, "statics.balance_index", index), "{} {index}", json["statics"]);
        (stdout_of(["summary", &self.run]).unwrap(), json)
    }

    /// The page in both sizes is one page.
    fn is_one_page(&self) {
        let page = self.folder.path("page.pdf");
        is_one_page(&["summary", &self.run, "-o", &page], &page);
    }
}

fn holds(json: &Value, dotted: &str, truth: f64) -> bool {
    let figure = dotted.split('.').fold(json, |value, key| &value[key]);
    let end = |key: &str| figure[key].as_f64().unwrap_or_else(|| panic!("{dotted}: {figure}"));
    end("low") <= truth && truth <= end("high")
}

#[test]
fn a_mounted_plow_is_judged_by_its_top_link() {
    let plow = Example::at_pull("plows/three-bottom-mounted.toml", 11_000.0);
    let (true_pull_n, (lower_n, top_n)) = (plow.loads.pull.n(), plow.links_n.unwrap());
    let (top, depth) = (("top_link_n", top_n, 60.0), ("depth_mm", plow.depth_mm, 8.0));
    let with_pull = plow.imported(&[("pull_n", true_pull_n, 400.0), top, depth]);
    let with_links = plow.imported(&[("lower_links_n", lower_n, 400.0), top, depth]);
    for run in [&with_pull, &with_links] {
        let (text, json) = run.summary(&plow);
        assert!(holds(&json, "top_link.mean_n", top_n) && json["tail_load"].is_null(), "{json}");
        assert_eq!(json["judged_by"], "top-link force");
        let pull_n = json["pull"]["mean_n"]["value"].as_f64().unwrap();
        assert!((pull_n / true_pull_n - 1.0).abs() < 0.02, "{pull_n} {true_pull_n}");
        assert_has(&text, &["top-link force, mean", "bobbing of the top-link force"]);
        assert!(!text.contains("tail wheel") && !text.contains("tail load"), "{text}");
        run.is_one_page();
    }
    let (text, _) = with_links.summary(&plow);
    assert!(text.contains("worked out from the lower links and top link channels"), "{text}");
}

#[test]
fn a_walking_plow_is_judged_by_its_heel() {
    let plow = Example::at_pull("plows/one-bottom-walking.toml", 900.0);
    let tail_n = plow.loads.tail_load.n();
    let (pull, depth) = (("pull_n", plow.loads.pull.n(), 40.0), ("depth_mm", plow.depth_mm, 6.0));
    let run = plow.imported(&[pull, depth, ("tail_load_n", tail_n, 20.0)]);
    let (text, json) = run.summary(&plow);
    assert!(holds(&json, "tail_load.mean_n", tail_n) && json["top_link"].is_null(), "{json}");
    assert_eq!(json["judged_by"], "heel load");
    assert!(text.contains("heel load, mean") && !text.contains("tail wheel"), "{text}");
    run.is_one_page()
}

/// There is no load to look at: no bobbing is said to be there, or not, and the strip says that none was measured.
#[test]
fn the_inclination_of_the_drawbar_is_enough_with_a_pitch_and_not_without() {
    let plow = Example::at_pull("plows/two-bottom.toml", 7_500.0);
    let (pull, depth) = (("pull_n", plow.loads.pull.n(), 300.0), ("depth_mm", plow.depth_mm, 8.0));
    let inclination = ("drawbar_deg", plow.loads.drawbar_slope.atan().to_degrees(), 0.3);
    let posed = plow.imported(&[pull, depth, inclination, ("pitch_deg", 0.0, 0.2)]);
    let (text, json) = posed.summary(&plow);
    for absent in ["tail_load", "front_load", "top_link", "judged_by", "bobbing", "pull_to_tail"] {
        assert!(json[absent].is_null(), "{absent}: {}", json[absent]);
    }
    assert!(text.contains("no load was measured in which bobbing could be seen"), "{text}");
    assert!(text.contains("they rest on the inclination of the drawbar"), "{text}");
    posed.is_one_page();
    for too_little in [vec![pull, depth], vec![pull, depth, inclination]] {
        let imported = plow.imported(&too_little);
        let would_do = "a verdict needs the pull, depth_mm and one of tail_mm (tail-wheel spring)";
        let notices = format!("{}{}", imported.said.stdout, imported.said.stderr);
        assert!(notices.contains(would_do), "{notices}");
        let ended = hitchwright(["summary", &imported.run], 1).unwrap();
        assert!(ended.stderr.contains(would_do) && ended.stderr.lines().count() == 1, "{}", ended.stderr);
    }
}
