//! A stop that the wheel's linkage reaches, seen at the ends of the deflection: readings pile up at it where the wheel is
//! held, and the end is cut off sharply where the wheel strikes it and springs back.
//!
//! A wheel that swings freely is seldom at the ends of its way; one that is pressed against a stop stays there until
//! the load lets go of it. The pile is compared with the band of the same width beside it. The steadiest free swing, a pure
//! sine, has 2.4 times as many readings in its outermost fortieth as in the next one (arcsine law); a stop
//! against which a random swing is held for a tenth of the time has four times as many or more.
//!
//! On the virtual plow a hard stop never gave a pile: the spring pushes the wheel off at once. What it gave was an
//! end as sharp as the noise allows. A free swing runs out on both sides; the steadiest one, a sine, is sharp on
//! both. So the two ends are set against each other.

use super::linkage::Deflection;
use schemars::JsonSchema;
use serde::Serialize;

/// Widths of the bands that are tried, over the spread: a pile is as wide as the sensor's noise makes it.
const WIDTHS: [f64; 5] = [0.02, 0.03, 0.045, 0.07, 0.10];
/// The outermost reading of this share of all stands for the end, so that a few odd ones do not.
const END_SHARE: f64 = 0.001;
/// Times as many readings as in the band beside it.
const RATIO_MIN: f64 = 3.2;
/// Share of all readings in the pile.
const SHARE_MIN: f64 = 0.015;
/// Times that the wheel came to the end and left it again.
const VISITS_MIN: usize = 6;

/// Which end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// The spring gives as far as it can.
    Most,
    /// The wheel hangs, or rests, as far out as it can.
    Least,
}

impl End {
    /// The deflection beyond which this share of the readings lies at this end, mm.
    fn quantile_mm(self, deflection: &Deflection<'_>, share: f64) -> f64 {
        deflection.quantile_mm(if self == Self::Most { 1.0 - share } else { share })
    }
}

/// A pile at an end.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PileUp {
    /// Which end.
    pub end: End,
    /// Middle of the pile, mm.
    pub at_mm: f64,
    /// Share of the readings in it.
    pub share: f64,
    /// Times as many readings as in the band beside it.
    pub ratio: f64,
    /// Times that the wheel came there.
    pub visits: usize,
}

/// The piles at the two ends, if they are there.
pub fn pile_ups(deflection: &Deflection<'_>) -> Vec<PileUp> {
    [End::Most, End::Least].into_iter().filter_map(|end| at_end(deflection, end)).collect()
}

fn at_end(deflection: &Deflection<'_>, end: End) -> Option<PileUp> {
    let spread_mm = deflection.spread_mm();
    let most = end == End::Most;
    let edge_mm = end.quantile_mm(deflection, END_SHARE);
    let inner_mm = |width_mm: f64| if most { edge_mm - width_mm } else { edge_mm + width_mm };
    let between = |one: f64, other: f64| deflection.count(one.min(other), one.max(other));
    let beyond_mm = if most { f64::INFINITY } else { f64::NEG_INFINITY };
    let candidate = |width: f64| {
        let width_mm = width * spread_mm;
        let pile = between(inner_mm(width_mm), beyond_mm);
        let beside = between(inner_mm(2.0 * width_mm), inner_mm(width_mm));
        // One more beside it: an empty band has no ratio.
        let ratio = pile as f64 / (beside + 1) as f64;
        let share = pile as f64 / deflection.readings() as f64;
        let at_mm = inner_mm(width_mm / 2.0);
        let found = PileUp { end, at_mm, share, ratio, visits: 0 };
        (found, inner_mm(width_mm), inner_mm(2.0 * width_mm))
    };
    let enough = |found: &PileUp| found.ratio >= RATIO_MIN && found.share >= SHARE_MIN;
    let (found, came_mm, left_mm) = WIDTHS
        .map(candidate)
        .into_iter()
        .filter(|(found, ..)| enough(found))
        .max_by(|a, b| a.0.ratio.total_cmp(&b.0.ratio))?;
    let visits = visits(deflection, most, came_mm, left_mm);
    (visits >= VISITS_MIN).then_some(PileUp { visits, ..found })
}

/// How often the wheel came beyond one level and then back beyond the other.
fn visits(deflection: &Deflection<'_>, most: bool, came_mm: f64, left_mm: f64) -> usize {
    let beyond = |mm: f64, level_mm: f64| if most { mm > level_mm } else { mm <= level_mm };
    let mut visits = 0;
    for piece in &deflection.pieces {
        let mut there = false;
        for mm in *piece {
            if !there && beyond(*mm, came_mm) {
                there = true;
                visits += 1;
            } else if there && !beyond(*mm, left_mm) {
                there = false;
            }
        }
    }
    visits
}

/// The end is what lies from here to the outermost, shares of the readings.
const END_SHARES: (f64, f64) = (0.05, 0.001);
/// A sharp end is this long at most, over the spread. On 80 passes of the virtual plow without a stop no end that
/// was not a lifted wheel's was under 0.28, a normal law has 0.44; with a stop that cuts a tenth off it was 0.01 to
/// 0.13.
const SHARP_MAX: f64 = 0.15;
/// And this long at most over the other end.
const OVER_OTHER_MAX: f64 = 0.4;
/// An end from this length on, over the spread, runs out as a free wheel's does.
const FREE_MIN: f64 = 0.2;

/// A sharp end.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SharpEnd {
    /// Which end.
    pub end: End,
    /// Where it is, mm.
    pub at_mm: f64,
    /// Length of the outermost twentieth of the readings, mm.
    pub length_mm: f64,
    /// The same at the other end, mm.
    pub other_mm: f64,
    /// Times that the wheel came there.
    pub visits: usize,
}

/// The end that is sharp where the other is not.
pub fn sharp_end(deflection: &Deflection<'_>) -> Option<SharpEnd> {
    [End::Most, End::Least].into_iter().find_map(|end| {
        let most = end == End::Most;
        let other = if most { End::Least } else { End::Most };
        let (length_mm, other_mm) = (length_mm(deflection, end), length_mm(deflection, other));
        if length_mm > SHARP_MAX * deflection.spread_mm() || length_mm > OVER_OTHER_MAX * other_mm {
            return None;
        }
        let at = |share: f64| end.quantile_mm(deflection, share);
        let visits = visits(deflection, most, at(END_SHARES.0), at(0.2));
        let found = SharpEnd { end, at_mm: at(END_SHARES.1), length_mm, other_mm, visits };
        (visits >= VISITS_MIN).then_some(found)
    })
}

/// Whether the spring's far end runs out as that of a free wheel does.
pub fn runs_out(deflection: &Deflection<'_>) -> bool {
    length_mm(deflection, End::Most) >= FREE_MIN * deflection.spread_mm()
}

fn length_mm(deflection: &Deflection<'_>, end: End) -> f64 {
    let (inner, outer) = END_SHARES;
    (end.quantile_mm(deflection, outer) - end.quantile_mm(deflection, inner)).abs()
}
