//! The balance of the last 20 s, as the seat shows it: against the truth of drawn plows, and against the report of the
//! same rows.

use analysis::summary::analyse;
use hitchwright_tests::coverage::Coverage;
use hitchwright_tests::drawn_run::{DrawnRun, SETTING, drawn_plow, driven, process_of};
use ingest::assemble::Row;
use ingest::plow::{ChannelRole, Limits, Plow, read_plow_text};
use ingest::recorder::LiveRows;
use sample_runs::plow::DrawnPlow;
use seat::balance::{Balance, DRAWS, Found, KEPT_S, OVER_S, Window, balance_of, last_stretch};
use signals::run::Run;
use statics::identify::DRAWS as DRAWS_OF_REPORT;
use statics::verdict::Class;
use std::path::Path;

/// Rows of a run's first table from its start up to a time, as a recorder passes them on: in batches of 8.
fn fed(window: &mut Window, run: &Run, until_s: f64) {
    let table = &run.tables[0];
    let columns: Vec<ChannelRole> = table.channels.keys().copied().collect();
    let rows: Vec<Row> = (0..table.t_s.len())
        .filter(|row| table.t_s[*row] <= until_s)
        .map(|row| {
            let mut of = Row::at((table.t_s[row] * 1e6).round() as u64);
            columns.iter().for_each(|role| of.push(table.channels[role][row]));
            of
        })
        .collect();
    rows.chunks(8).for_each(|rows| window.take(&LiveRows { number: 0, columns: &columns, rows }));
}

fn judged(found: &Found, plow: &Plow) -> Balance {
    let setting = &plow.settings[SETTING];
    let judged = found.judged.clone().resting((plow, setting), &found.figures);
    Balance::of(&judged, found.front, OVER_S)
}

/// b by the mean loads between two times of a pass.
fn true_b(drawn: &DrawnPlow, (from_s, to_s): (f64, f64)) -> f64 {
    let plow = &drawn.pass.plow;
    let (mut front_n, mut tail_n) = (0.0, 0.0);
    driven(drawn, 50.0, |state| {
        if (from_s..to_s).contains(&state.t_s) {
            front_n += state.forces.front_load_n;
            tail_n += state.forces.tail_load_n;
        }
    });
    let (x_t, x_w) = (plow.tail.contact.x_m, plow.weight_at.x_m);
    let off_m = tail_n * x_t / (front_n + tail_n) - x_w;
    if off_m >= 0.0 { off_m / -x_w } else { off_m / (x_w - x_t) }
}

#[derive(Default)]
struct Tally {
    coverage: Coverage,
    not_shown: Vec<(u64, String)>,
    /// Of each word in bold: the probability claimed, and whether the class was the true one.
    bold: Vec<(f64, bool)>,
    /// The same of words that are not firm.
    looks: Vec<(f64, bool)>,
    off_by_two: Vec<u64>,
    wrong_side: Vec<u64>,
}

impl Tally {
    fn take(&mut self, seed: u64, process_s: Option<f64>) {
        let mut drawn = drawn_plow(seed);
        drawn.pass.times.working_s = 60.0;
        drawn.rate_hz = drawn.rate_hz.min(100.0);
        let DrawnRun { run, truth, plow_toml, .. } = DrawnRun::of(&drawn, &[], seed);
        let plow = read_plow_text(&plow_toml, Path::new("drawn.toml")).unwrap();
        let setting = &plow.settings[SETTING];
        let mut window = Window::of(&plow, setting, KEPT_S);
        // Somewhere in the pass.
        fed(&mut window, &run, truth.from_s + 24.0 + (seed % 31) as f64);
        let span_us = match last_stretch((&plow, setting), &window) {
            Ok(span_us) => span_us,
            Err(why) => return self.not_shown.push((seed, why.to_string())),
        };
        let found = match balance_of((&plow, setting), &window, span_us, DRAWS) {
            Ok(found) => found,
            Err(why) => return self.not_shown.push((seed, why.to_string())),
        };
        let b = true_b(&drawn, (span_us.0 as f64 / 1e6, span_us.1 as f64 / 1e6));
        if let Ok(identified) = &found.judged.identified {
            let told = Some(&identified.balance_index);
            self.coverage.take("b of the 20 s", told, Some(b));
            self.coverage.take("b of the pass", told, Some(truth.balance_index));
            let process = process_s.map(|long_s| process_of(&drawn, long_s).0.balance_index);
            self.coverage.take("b of the process", told, process);
        }
        let shown = match judged(&found, &plow) {
            Balance::Shown(shown) => shown,
            Balance::NotShown { why } => return self.not_shown.push((seed, why.to_string())),
        };
        if shown.soil_lifts {
            return;
        }
        let truly = Class::of(b, &Limits::default());
        let chances =
            [shown.too_flat, shown.leaning_flat, shown.balanced, shown.leaning_steep, shown.too_steep];
        let claimed =
            Class::SHOWN.into_iter().zip(chances).find(|(class, _)| *class == shown.class).unwrap().1;
        let words = if shown.firm { &mut self.bold } else { &mut self.looks };
        words.push((claimed, truly == shown.class));
        if shown.class.apart(truly).is_some_and(|apart| apart > 1) {
            self.off_by_two.push(seed);
        }
        let side = match shown.class {
            Class::TooFlat => 1.0,
            Class::TooSteep => -1.0,
            _ => 0.0,
        };
        if side * b < 0.0 {
            self.wrong_side.push(seed);
        }
    }

    fn print(&self) {
        self.coverage.print();
        for (what, words) in [("firm", &self.bold), ("looks", &self.looks)] {
            let claimed = words.iter().map(|(claimed, _)| claimed).sum::<f64>() / words.len().max(1) as f64;
            let right = words.iter().filter(|(_, right)| *right).count();
            println!("  {what}: {} words, claimed {:.0} %, right {right}", words.len(), 100.0 * claimed);
        }
        println!(
            "  off by two {:?}, wrong side bold {:?}, not shown {:?}",
            self.off_by_two, self.wrong_side, self.not_shown
        );
    }
}

#[test]
fn the_balance_of_the_last_seconds_holds_the_truth() {
    let mut tally = Tally::default();
    (2001..=2012).for_each(|seed| tally.take(seed, None));
    tally.print();
    let (held, all) = tally.coverage.of("b of the 20 s");
    // Of 12 intervals that each hold with 93 % chance, fewer than 9 hold in one study of a thousand.
    assert!(all >= 9 && held + 3 >= all, "b held in {held} of {all}");
    assert!(tally.wrong_side.is_empty(), "{:?}", tally.wrong_side);
}

#[test]
#[ignore = "300 drawn plows take some minutes; prints the table"]
fn full_study() {
    let mut tally = Tally::default();
    (3001..=3300).for_each(|seed| tally.take(seed, Some(600.0)));
    tally.print();
    for what in ["b of the 20 s", "b of the pass"] {
        let (held, all) = tally.coverage.of(what);
        assert!(100 * held >= 93 * all, "{what}: {held} of {all}");
    }
    assert!(tally.wrong_side.is_empty(), "{:?}", tally.wrong_side);
    let claimed: f64 = tally.bold.iter().map(|(claimed, _)| claimed).sum();
    let right = tally.bold.iter().filter(|(_, right)| *right).count() as f64;
    let spread: f64 = tally.bold.iter().map(|(claimed, _)| claimed * (1.0 - claimed)).sum::<f64>().sqrt();
    assert!(right >= claimed - 2.0 * spread, "{right} right of {claimed:.1} claimed");
}

/// The rows of a whole pass give the same balance live as in its report.
#[test]
fn a_whole_pass_is_judged_as_its_report_judges_it() {
    for seed in [2101, 2102, 2103, 2104] {
        let mut drawn = drawn_plow(seed);
        drawn.pass.times.working_s = 60.0;
        drawn.rate_hz = drawn.rate_hz.min(100.0);
        let DrawnRun { run, plow_toml, .. } = DrawnRun::of(&drawn, &[], seed);
        let plow = read_plow_text(&plow_toml, Path::new("drawn.toml")).unwrap();
        let mut window = Window::of(&plow, &plow.settings[SETTING], 1_000.0);
        fed(&mut window, &run, f64::INFINITY);
        let report = analyse(run).unwrap().summary;
        let part = report.working_part;
        let span_us = ((part.from_s * 1e6) as u64, (part.to_s * 1e6) as u64);
        let live = balance_of((&plow, &plow.settings[SETTING]), &window, span_us, DRAWS_OF_REPORT).unwrap();
        let (Ok(live), Some(told)) = (&live.judged.identified, &report.statics) else {
            assert!(live.judged.identified.is_err() && report.verdict.contradicted, "seed {seed}");
            continue;
        };
        let (one, other) = (live.balance_index, told.balance_index);
        println!("{seed}: live {one:?}, report {other:?}");
        for (one, other) in [(one.value, other.value), (one.low, other.low), (one.high, other.high)] {
            assert!((one - other).abs() < 0.01, "seed {seed}: {one} {other}");
        }
    }
}
