//! A deflection that ends as if cut off on one side and runs out on the other: a stop that the wheel strikes and
//! springs back from, so that readings do not pile up there.
//!
//! On the virtual plow a hard stop never gave a pile: the spring pushes the wheel off at once. What it gave was an
//! end as sharp as the noise allows. A free swing runs out on both sides; the steadiest one, a sine, is sharp on
//! both. So the two ends are set against each other.

use super::deflection::Deflection;
use super::pile_up::{End, visits};
use serde::Serialize;

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
/// Times that the wheel came to the end and left it again.
const VISITS_MIN: usize = 6;

/// A sharp end.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
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
#[must_use]
pub fn sharp_end(deflection: &Deflection<'_>) -> Option<SharpEnd> {
    [End::Most, End::Least].into_iter().find_map(|end| {
        let most = end == End::Most;
        let other = if most { End::Least } else { End::Most };
        let (length_mm, other_mm) = (length_mm(deflection, end), length_mm(deflection, other));
        if length_mm > SHARP_MAX * deflection.spread_mm() || length_mm > OVER_OTHER_MAX * other_mm {
            return None;
        }
        let at = |share: f64| deflection.quantile_mm(if most { 1.0 - share } else { share });
        let visits = visits(deflection, most, at(END_SHARES.0), at(0.2));
        let found = SharpEnd { end, at_mm: at(END_SHARES.1), length_mm, other_mm, visits };
        (visits >= VISITS_MIN).then_some(found)
    })
}

/// Whether the spring's far end runs out as that of a free wheel does.
#[must_use]
pub fn runs_out(deflection: &Deflection<'_>) -> bool {
    length_mm(deflection, End::Most) >= FREE_MIN * deflection.spread_mm()
}

fn length_mm(deflection: &Deflection<'_>, end: End) -> f64 {
    let (inner, outer) = END_SHARES;
    match end {
        End::Most => deflection.quantile_mm(1.0 - outer) - deflection.quantile_mm(1.0 - inner),
        End::Least => deflection.quantile_mm(inner) - deflection.quantile_mm(outer),
    }
}
