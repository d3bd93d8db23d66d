//! Bobbing against plows drawn at random: whether the intervals of frequency, damping and RMS hold the mode that the
//! tail load swings in most. The drawn plows are invented.

#![allow(clippy::unwrap_used, clippy::expect_used)] // what cannot be made must stop the test

use analysis::stats::Estimate;
use analysis::summary::analyse;
use analysis::units_out::Units;
use hitchwright_tests::drawn_run::{DrawnRun, drawn_plow};
use ingest::plow::ChannelRole;
use sample_runs::plow::{DrawnPlow, Mode};
use std::collections::BTreeMap;

/// How many intervals were told, and how many of them held.
#[derive(Default)]
struct Held(BTreeMap<&'static str, (usize, usize)>);

impl Held {
    fn take(&mut self, what: &'static str, held: bool) {
        let slot = self.0.entry(what).or_default();
        slot.0 += usize::from(held);
        slot.1 += 1;
    }

    fn of(&self, what: &str) -> (usize, usize) {
        self.0.get(what).copied().unwrap_or_default()
    }

    fn print(&self) {
        for (what, (held, all)) in &self.0 {
            println!("  {what:<56} {held:>4} of {all:>4}");
        }
    }
}

fn show(of: &Estimate) -> String {
    format!("{:.2} ({:.2} to {:.2})", of.value, of.low, of.high)
}

/// One plow, its rows at most `rows`; what is told of its bobbing, beside its modes.
fn judge(seed: u64, rows: f64, held: &mut Held) {
    let mut drawn: DrawnPlow = drawn_plow(seed);
    drawn.pass.times.working_s = drawn.pass.times.working_s.min(rows / drawn.rate_hz);
    let DrawnRun { run, truth, .. } = DrawnRun::of(&drawn, &[ChannelRole::Speed], seed);
    let Ok(analysed) = analyse(run, Units::Si) else { return held.take("told at all", false) };
    let said = analysed.summary;
    held.take("told at all", true);
    let modes: Vec<(Mode, f64)> = truth.modes.iter().flatten().copied().collect();
    let text: Vec<String> = modes
        .iter()
        .map(|(mode, rms_n)| format!("[{:.2} Hz {:.2} {rms_n:.0} N]", mode.frequency_hz, mode.damping_ratio))
        .collect();
    let seen_hz = (0.45 * drawn.rate_hz).min(15.0);
    print!(
        "{seed} {:>4} Hz {:>3.0} s lifted {:.2} {}",
        drawn.rate_hz,
        drawn.pass.times.working_s,
        truth.lifted_share,
        text.join(" ")
    );
    let Some(bobbing) = &said.bobbing else {
        println!(" -> none: {}", said.bobbing_note.unwrap_or_default());
        return held.take("bobbing told", false);
    };
    held.take("bobbing told", true);
    println!(
        " -> {} Hz, {} {} N{}{} {}",
        show(&bobbing.frequency_hz),
        bobbing.damping_ratio.as_ref().map(show).unwrap_or_default(),
        show(&bobbing.rms_n),
        bobbing.further_modes.iter().map(|m| format!(", {} Hz", show(&m.frequency_hz))).collect::<String>(),
        if bobbing.poor_fit { " POOR" } else { "" },
        said.bobbing_note.unwrap_or_default(),
    );
    let strongest = modes.iter().max_by(|a, b| a.1.total_cmp(&b.1));
    let Some((strongest, strongest_rms_n)) = strongest else {
        return held.take("(a wheel off the ground at the mean: no modes)", false);
    };
    if strongest.frequency_hz > seen_hz {
        return held
            .take("strongest mode above the search", bobbing.frequency_hz.holds(strongest.frequency_hz));
    }
    held.take("frequency: strongest mode", bobbing.frequency_hz.holds(strongest.frequency_hz));
    if truth.lifted_share < 0.05 {
        held.take(
            "frequency: strongest mode, lifted < 5 %",
            bobbing.frequency_hz.holds(strongest.frequency_hz),
        );
    }
    let away = |mode: &Mode| (mode.frequency_hz / bobbing.frequency_hz.value).ln().abs();
    let nearest = modes.iter().min_by(|a, b| away(&a.0).total_cmp(&away(&b.0)));
    let (nearest, nearest_rms_n) = nearest.expect("there is a strongest mode");
    held.take("frequency: nearest mode", bobbing.frequency_hz.holds(nearest.frequency_hz));
    if let Some(damping) = bobbing.damping_ratio {
        held.take("damping: nearest mode", damping.holds(nearest.damping_ratio));
    }
    held.take("RMS: nearest mode", bobbing.rms_n.holds(*nearest_rms_n));
    held.take("RMS: strongest mode", bobbing.rms_n.holds(*strongest_rms_n));
}

/// The seeds were not looked at while the fit was made. No bound is set on how often the strongest mode is held: where
/// two are about as strong, or the slower is heard only, another one is told.
#[test]
#[ignore = "200 drawn plows take minutes; prints the table every 20 plows"]
fn of_drawn_plows() {
    let mut held = Held::default();
    for seed in 1001..=1200 {
        judge(seed, 60_000.0, &mut held);
        if seed % 20 == 0 {
            held.print();
        }
    }
    let (good, all) = held.of("frequency: nearest mode");
    // What one resonance by itself reached, before modes were fitted together.
    assert!(all >= 100 && 100 * good >= 77 * all, "{good} of {all}");
}

/// A smoke test: few plows, of those that the fit was made on, a minute each at no more than 100 rows a second.
#[test]
fn a_few_drawn_plows_of_those_it_was_made_on() {
    let mut held = Held::default();
    for seed in [3002, 3004, 3010, 3021, 3034, 3043] {
        judge(seed, 6_000.0, &mut held);
    }
    held.print();
    let (good, all) = held.of("frequency: nearest mode");
    assert!(all >= 4 && good + 1 >= all, "{good} of {all}");
}
