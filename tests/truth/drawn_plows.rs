//! The analysis against plows drawn at random: another machine, hitch, share, field, speed, box and errors of
//! measuring each time. How often its intervals hold what is true of the pass, and what is true of the process
//! that the pass is one sample of; how often it calls the wrong side, refuses, or breaks.

use analysis::summary::{Summary, SummaryError, analyse};
use hitchwright_tests::coverage::Coverage;
use hitchwright_tests::drawn_run::{DrawnRun, TrueSeries, drawn_plow, process_of};
use ingest::plow::Limits;
use sample_runs::plow::{DrawnPlow, Truth};
use signals::run::Run;
use statics::verdict::Class;
use stats::descriptive::percentiles;
use stats::{Estimate, Moments};
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};

/// What came of one run: told, refused, or an analysis that broke.
type Outcome = std::thread::Result<Result<Summary, SummaryError>>;

struct Study {
    seed: u64,
    drawn: DrawnPlow,
    truth: Truth,
    series: TrueSeries,
    outcome: Outcome,
    /// What is true of the process, and what was told of the same pass measured without error.
    process: Option<(Truth, TrueSeries, Outcome)>,
}

fn outcome(run: Run) -> Outcome {
    catch_unwind(AssertUnwindSafe(|| analyse(run).map(|analysed| analysed.summary)))
}

fn study(seed: u64, change: impl Fn(&mut DrawnPlow), process_s: Option<f64>) -> Study {
    let mut drawn = drawn_plow(seed);
    change(&mut drawn);
    let DrawnRun { run, truth, series, .. } = DrawnRun::of(&drawn, &[], seed);
    let process = process_s.map(|long_s| {
        let (truth, series) = process_of(&drawn, long_s);
        (truth, series, outcome(DrawnRun::measured(&drawn, &[], seed, 0.0).run))
    });
    Study { seed, drawn, truth, series, outcome: outcome(run), process }
}

/// Mean, SD, 5th and 95th percentile of what is true.
fn figures(values: &[f64]) -> [f64; 4] {
    let moments = Moments::of(values);
    let [p5, p95] = percentiles(values, &[5.0, 95.0]).unwrap()[..] else { panic!("two percentiles") };
    [moments.mean, moments.sd().unwrap(), p5, p95]
}

/// What is told whatever the truth is of.
fn take_figures(coverage: &mut Coverage, said: &Summary, truth: &Truth, series: &TrueSeries) {
    let [pull, pull_sd, pull_p5, pull_p95] = figures(&series.pull_n);
    let [depth, depth_sd, depth_p5, depth_p95] = figures(&series.depth_mm);
    let [tail, tail_sd, ..] = figures(&series.tail_load_n);
    // Every drawn plow has a tail wheel on a spring.
    let load = said.tail_load.as_ref().unwrap();
    for (what, told, truth) in [
        ("pull mean", &said.pull.mean_n, pull),
        ("pull SD", &said.pull.sd_n, pull_sd),
        ("pull 5 %", &said.pull.p5_n, pull_p5),
        ("pull 95 %", &said.pull.p95_n, pull_p95),
        ("depth mean", &said.depth.mean_mm, depth),
        ("depth SD", &said.depth.sd_mm, depth_sd),
        ("depth variance", &said.depth.variance_mm2, depth_sd.powi(2)),
        ("depth 5 %", &said.depth.p5_mm, depth_p5),
        ("depth 95 %", &said.depth.p95_mm, depth_p95),
        ("tail load mean", &load.mean_n, tail),
        ("tail load SD", &load.sd_n, tail_sd),
    ] {
        coverage.take(what, Some(told), Some(truth));
    }
    coverage.take("lifted share", load.lifted_share.as_ref(), Some(truth.lifted_share));
    coverage.take("tail load SD/mean", load.cv.as_ref(), Some(tail_sd / tail));
}

/// Figures of the statics against what is true of the pass.
pub fn take_statics(coverage: &mut Coverage, said: &Summary, truth: &Truth) {
    let Some(statics) = &said.statics else { return };
    for (what, told, truth) in [
        ("b", &statics.balance_index, truth.balance_index),
        ("e", &statics.pull_line_offset_mm, 1000.0 * truth.pull_line_offset_m),
        ("soil slope", &statics.soil_slope, truth.soil_slope),
        ("tail share", &statics.tail_share, truth.tail_share),
        ("front load", &statics.front_load_n, truth.front_load_n),
    ] {
        coverage.take(what, Some(told), Some(truth));
    }
}

/// The side that a class names: +1 flat, −1 steep, 0 none; and whether it is bold.
fn side(class: Class) -> (f64, bool) {
    match class {
        Class::TooFlat => (1.0, true),
        Class::LeaningFlat => (1.0, false),
        Class::LeaningSteep => (-1.0, false),
        Class::TooSteep => (-1.0, true),
        Class::Balanced | Class::NotShown => (0.0, false),
    }
}

#[derive(Default)]
struct Tally {
    pass: Coverage,
    process: Coverage,
    process_without_error: Coverage,
    classes: BTreeMap<String, BTreeMap<String, usize>>,
    /// Too flat or too steep where the balance lies on the other side; the same where it is balanced; leaning
    /// where it lies on the other side beyond the band of balance.
    wrong_bold: Vec<u64>,
    bold_but_balanced: Vec<u64>,
    wrong_leaning: Vec<u64>,
    no_statics: usize,
    refused: Vec<(u64, String)>,
    broke: Vec<u64>,
    runs: usize,
}

impl Tally {
    fn take(&mut self, study: &Study) {
        self.runs += 1;
        let said = match &study.outcome {
            Ok(Ok(said)) => said,
            Ok(Err(why)) => return self.refused.push((study.seed, why.to_string())),
            Err(_) => return self.broke.push(study.seed),
        };
        take_figures(&mut self.pass, said, &study.truth, &study.series);
        take_statics(&mut self.pass, said, &study.truth);
        if let Some((truth, series, without_error)) = &study.process {
            take_figures(&mut self.process, said, truth, series);
            take_statics(&mut self.process, said, truth);
            if let Ok(Ok(said)) = without_error {
                take_figures(&mut self.process_without_error, said, truth, series);
            }
        }
        let b = study.truth.balance_index;
        let truly = Class::of(b, &Limits::default());
        let class = said.verdict.class;
        *self.classes.entry(truly.to_string()).or_default().entry(class.to_string()).or_default() += 1;
        let (side, bold) = side(class);
        match (bold, side * b) {
            (true, along) if along < 0.0 => self.wrong_bold.push(study.seed),
            (true, along) if along <= 0.25 => self.bold_but_balanced.push(study.seed),
            (false, along) if along < -0.25 => self.wrong_leaning.push(study.seed),
            _ => {}
        }
        self.no_statics += usize::from(said.statics.is_none());
    }

    fn print(&self) {
        for (title, coverage) in [
            ("95 % intervals against the truth of the pass", &self.pass),
            ("95 % intervals against the truth of the process (a long strip)", &self.process),
            ("the same, of passes measured without error", &self.process_without_error),
        ] {
            println!("\n{title}");
            coverage.print();
        }
        println!("\nclass by the true b -> class told");
        for (truly, told) in &self.classes {
            println!("  {truly:<14} {told:?}");
        }
        let Self { runs, wrong_bold, bold_but_balanced, wrong_leaning, no_statics, broke, refused, .. } =
            self;
        println!(
            "{runs} runs; wrong side bold {wrong_bold:?}; bold but balanced {bold_but_balanced:?}; wrong side leaning \
             {wrong_leaning:?}; no statics {no_statics}; broke {broke:?}; refused {refused:?}"
        );
    }

    /// What is promised whatever the plow.
    fn check(&self) {
        assert!(self.broke.is_empty(), "the analysis broke on {:?}", self.broke);
        assert!(self.wrong_bold.is_empty(), "the wrong side was called on {:?}", self.wrong_bold);
        let told = self.runs - self.refused.len();
        assert!(10 * told >= 9 * self.runs, "{:?}", self.refused);
    }
}

/// A plow and its modes, as a line of a study begins.
pub fn line_of(seed: u64, drawn: &DrawnPlow, truth: &Truth) -> String {
    let (plow, working_s, rate_hz) = (&drawn.pass.plow, drawn.pass.times.working_s, drawn.rate_hz);
    let mut text = format!(
        "{seed:>4} {:>3.0} kg {} k {:>4.0} {:>4.0} {:.1} km/h {working_s:>3.0} s {rate_hz:>4} Hz {:<5} b {:+.2} lifted {:.2}",
        plow.mass_kg(),
        drawn.bottoms,
        plow.front.stiffness_n_per_m / 1e3,
        plow.tail.stiffness_n_per_m / 1e3,
        3.6 * drawn.pass.speed_mps,
        drawn.pass.share.name(),
        truth.balance_index,
        truth.lifted_share
    );
    for (mode, rms_n) in truth.modes.iter().flatten() {
        text += &format!(" [{:.2} Hz {:.2} {rms_n:.0} N]", mode.frequency_hz, mode.damping_ratio);
    }
    text
}

/// A value with its interval.
pub fn show(of: &Estimate) -> String {
    format!("{:.2} ({:.2} to {:.2})", of.value, of.low, of.high)
}

fn line(study: &Study) -> String {
    let text = line_of(study.seed, &study.drawn, &study.truth);
    match &study.outcome {
        Ok(Ok(said)) => {
            let b = said.statics.as_ref().map_or("no statics".to_owned(), |s| show(&s.balance_index));
            let told = said.bobbing.as_ref();
            let bobbing =
                told.map(|told| format!("{} Hz {:.0} N", show(&told.frequency_hz), told.rms_n.value));
            format!("{text} -> {} {b}; {}", said.verdict.class, bobbing.unwrap_or("no bobbing".to_owned()))
        }
        Ok(Err(why)) => format!("{text} -> refused: {why}"),
        Err(_) => format!("{text} -> BROKE"),
    }
}

#[test]
fn drawn_plows_are_judged_without_calling_the_wrong_side() {
    let mut tally = Tally::default();
    for seed in 1..=10 {
        // A minute at no more than 100 rows a second: what takes long is kept for the full study.
        let shorter = |drawn: &mut DrawnPlow| {
            drawn.pass.times.working_s = drawn.pass.times.working_s.min(60.0);
            drawn.rate_hz = drawn.rate_hz.min(100.0);
        };
        let study = study(seed, shorter, None);
        println!("{}", line(&study));
        tally.take(&study);
    }
    tally.print();
    tally.check();
    let (held, all) = tally.pass.of("b");
    // Of 10 intervals that each hold with 93 % chance, fewer than 7 hold in one study of 300.
    assert!(all >= 7 && held + 3 >= all, "b held in {held} of {all}");
}

#[test]
#[ignore = "200 drawn plows take some minutes; prints the table of all figures"]
fn full_study() {
    let mut tally = Tally::default();
    for seed in 1001..=1200 {
        // The fastest boxes for a minute and a half: more rows take long and show nothing else.
        let rows_held = |drawn: &mut DrawnPlow| {
            drawn.pass.times.working_s = drawn.pass.times.working_s.min(90_000.0 / drawn.rate_hz);
        };
        let study = study(seed, rows_held, Some(1_800.0));
        println!("{}", line(&study));
        tally.take(&study);
        if tally.runs % 20 == 0 {
            tally.print();
        }
    }
    tally.print();
    tally.check();
    let (held, all) = tally.pass.of("b");
    assert!(100 * held >= 93 * all, "b held in {held} of {all}");
}
