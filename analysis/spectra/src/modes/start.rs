//! Where a fit starts, and what gain a further parameter needs.

use super::model::{Bins, Frame};
use stats::student::chi_square_quantile;

/// Chance of a further mode in a spectrum that has none.
pub const FALSE_FURTHER_MODE: f64 = 0.01;
/// Natural frequencies from which a further mode is tried, in each octave of the band.
const STARTS_AN_OCTAVE: f64 = 3.0;

/// Twice the logarithm of the likelihood's gain that `parameters` more need where they were looked for in so many
/// places: the χ² quantile at [`FALSE_FURTHER_MODE`], shared among the places (Šidák).
pub(super) fn needed_gain(parameters: usize, places: f64) -> Option<f64> {
    let each = -((-FALSE_FURTHER_MODE).ln_1p() / places.max(1.0)).exp_m1();
    chi_square_quantile(1.0 - each, parameters as f64)
}

pub(super) fn starts(bins: &Bins<'_>) -> Vec<f64> {
    let Some((low, high)) = bins.frequency_hz.first().zip(bins.frequency_hz.last()) else {
        return Vec::new();
    };
    let (low, high) = (2.0 * low, 0.8 * high);
    let steps = (STARTS_AN_OCTAVE * (high / low).log2()).floor().max(0.0);
    (0..=steps as usize).map(|i| low * (i as f64 / STARTS_AN_OCTAVE).exp2()).collect()
}

/// Where the fit of one mode starts; `None` without bins.
pub(super) fn start(frame: &Frame<'_>, bins: &Bins<'_>, first: (f64, f64)) -> Option<Vec<f64>> {
    let mut start = start_background(frame, bins)?;
    start.extend(frame.even_excitation());
    start.extend(start_mode(frame, bins, &start, first));
    Some(start)
}

fn start_background(frame: &Frame<'_>, bins: &Bins<'_>) -> Option<Vec<f64>> {
    let at = |knot: &f64| {
        let bin = bins.frequency_hz.partition_point(|f| f.ln() < *knot).min(bins.background.len() - 1);
        Some(bins.background.get(bin)?.max(f64::MIN_POSITIVE).ln())
    };
    frame.knots().iter().map(at).collect()
}

/// A mode at a place, with half of the power that the model of `p` leaves there.
pub(super) fn start_mode(
    frame: &Frame<'_>,
    bins: &Bins<'_>,
    p: &[f64],
    (natural_hz, damping): (f64, f64),
) -> Vec<f64> {
    let whole = frame.whole(p);
    let half = (damping * natural_hz).max(bins.bin_hz);
    let (mut over, mut under) = (0.0, 0.0);
    for ((f, s), m) in bins.frequency_hz.iter().zip(bins.density).zip(&whole) {
        if (f - natural_hz).abs() <= half {
            over += s - m;
            under += m;
        }
    }
    let power = over.max(0.1 * under).max(f64::MIN_POSITIVE) * bins.bin_hz;
    vec![power.ln(), natural_hz.ln(), damping.ln()]
}
