//! The time from the front wheels to the tail wheel, from the spectrum alone: land that passes under both makes dips
//! in it, one every 1/τ.

use super::fit::{Fitted, needed_gain, start};
use super::model::{Bins, Delay, Frame, OF_INTERFERENCE};
use std::f64::consts::TAU;

/// Tries for each dip over the band.
const TRIES_A_DIP: f64 = 8.0;
/// Dips nearer to each other than this cannot be seen, bins.
const DIP_BINS: f64 = 4.0;
/// Parameters that a delay adds: those of the interference, and its own.
const ADDED: usize = OF_INTERFERENCE + 1;

impl Bins<'_> {
    /// The delay for which the spectrum is fitted, s.
    ///
    /// Where it is only known within bounds, one mode is fitted without interference, and what is left of the ratio of
    /// spectrum to model is set against cos ωτ and sin ωτ for each delay τ; the best is taken if a fit with it is
    /// better by as much as the delays that can be told apart need ([`needed_gain`]).
    pub(super) fn delay_s(&self, shape: f64, first: (f64, f64)) -> Option<f64> {
        let (shortest_s, longest_s) = match self.delay {
            Delay::Unknown => return None,
            Delay::Known(delay_s) => return Some(delay_s),
            Delay::Within(shortest_s, longest_s) => {
                (shortest_s, longest_s.min(1.0 / (DIP_BINS * self.bin_hz)))
            }
        };
        let (low_hz, high_hz) = (self.frequency_hz.first()?, self.frequency_hz.last()?);
        let dips = (longest_s - shortest_s) * (high_hz - low_hz);
        if dips <= 0.0 || !dips.is_finite() {
            return None;
        }
        let one = |delay_s: Option<f64>| -> Option<(Frame<'_>, Fitted)> {
            let frame = Frame::new(self, shape, delay_s)?;
            let fitted = frame.fit(&start(&frame, self, first)?)?;
            Some((frame, fitted))
        };
        let (frame, without) = one(None)?;
        let tries = (TRIES_A_DIP * dips).ceil().max(1.0);
        let delays_s = (0..=tries as usize).map(|i| shortest_s + (longest_s - shortest_s) * i as f64 / tries);
        let left = Left::of(&frame, &without);
        let best_s = delays_s.max_by(|one, other| left.explained(*one).total_cmp(&left.explained(*other)))?;
        let (_, with) = one(Some(best_s))?;
        let gain = 2.0 * (without.objective - with.objective);
        (gain >= needed_gain(ADDED, dips)?).then_some(best_s)
    }
}

/// What a fit leaves of the ratio of spectrum to model, by frequency, weighed by the modes' share of the model.
struct Left(Vec<[f64; 3]>);

impl Left {
    fn of(frame: &Frame<'_>, fitted: &Fitted) -> Self {
        let whole = frame.whole(&fitted.p);
        let background = frame.background_at(&fitted.p);
        let rows = frame.frequency_hz.iter().zip(frame.density).zip(whole.iter().zip(&background));
        let used = rows.zip(frame.used).filter(|(_, used)| **used);
        Self(used.map(|(((f, s), (m, b)), _)| [*f, s / m - 1.0, 1.0 - b / m]).collect())
    }

    /// How much of the squares waves with this delay explain.
    fn explained(&self, delay_s: f64) -> f64 {
        let mut sums = [[0.0; 2]; 2];
        for [f, left, share] in &self.0 {
            let (sin, cos) = (TAU * f * delay_s).sin_cos();
            for ([with, own], wave) in sums.iter_mut().zip([cos, sin]) {
                *with += left * share * wave;
                *own += (share * wave).powi(2);
            }
        }
        sums.iter().map(|[with, own]| if *own > 0.0 { with * with / own } else { 0.0 }).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, Gamma};

    /// A mode at 3 Hz under land with dips of a delay of 1.2 s, each bin by itself χ² with 12 degrees of freedom.
    #[test]
    fn a_delay_is_found_where_there_are_dips_and_only_there() {
        let frequency_hz: Vec<f64> = (4..180).map(|i| f64::from(i) / 12.0).collect();
        let used = vec![true; frequency_hz.len()];
        let background = vec![0.02; frequency_hz.len()];
        let mut found = [0, 0];
        for seed in 0..20 {
            let mut rng = ChaCha8Rng::seed_from_u64(seed);
            let scatter = Gamma::new(6.0, 1.0 / 6.0).unwrap();
            for (depth, found) in [0.9, 0.0].into_iter().zip(&mut found) {
                let density: Vec<f64> = frequency_hz
                    .iter()
                    .map(|f| {
                        let r = f / 3.0;
                        let mode = 0.04 / ((1.0 - r * r).powi(2) + 0.04 * r * r);
                        let dips = 1.0 + depth * (TAU * f * 1.2 - 0.5).cos();
                        (mode * dips + 0.02) * scatter.sample(&mut rng)
                    })
                    .collect();
                let bins = Bins {
                    frequency_hz: &frequency_hz,
                    density: &density,
                    background: &background,
                    used: &used,
                    bin_hz: 1.0 / 12.0,
                    dof: 12.0,
                    delay: Delay::Within(0.7, 3.0),
                };
                let delay_s = bins.delay_s(6.0, (3.0, 0.1));
                assert!(depth == 0.0 || delay_s.is_none_or(|s| (s - 1.2).abs() < 0.06), "{delay_s:?}");
                *found += usize::from(delay_s.is_some());
            }
        }
        assert!(found[0] >= 19 && found[1] <= 1, "{found:?}");
    }
}
