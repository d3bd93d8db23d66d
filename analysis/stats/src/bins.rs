//! A long series reduced to a few thousand bins of sums, so that an interval costs the same whether
//! the run lasted a minute or an hour.

use super::{Moments, StatsError};

/// Most bins a series is reduced to. At 1024 a correlation time of a second still spans a bin in a run of a
/// quarter of an hour; where it does not, bins are nearly independent and nothing is lost either.
pub const MAX_BINS: usize = 1024;
/// Fewest bins an interval is given for.
pub const MIN_BINS: usize = 8;
/// Most single values kept for percentiles.
const MAX_THINNED: usize = 4096;
/// Share of the values from which a tail is continued.
const TAIL_SHARE: f64 = 0.05;

/// A piece of a channel without gaps.
#[derive(Clone, Copy, Debug)]
pub struct Stretch<'a> {
    /// Time of the first value, s.
    pub start_s: f64,
    /// Values at the channel's uniform rate.
    pub values: &'a [f64],
}

/// Sums over a number of consecutive values, with deviations taken from the mean of the whole series so that
/// squares do not cancel.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Bin {
    /// Number of values.
    pub count: f64,
    /// Σ(x − c), c the mean of the whole series.
    pub sum: f64,
    /// Σ(x − c)².
    pub squares: f64,
    /// How many values lie under the threshold.
    pub below: f64,
    /// Middle of the bin in time, s.
    pub middle_s: f64,
}

/// The reduced series: bins in time order and a thinned sample of values.
#[derive(Clone, Debug)]
pub(crate) struct Bins {
    /// Moments of every value of the series, not of the bins.
    pub moments: Moments,
    /// In time order; across a gap two bins are simply neighbours.
    pub bins: Vec<Bin>,
    /// Values in rising order, each with the index of its bin.
    pub thinned: Vec<(f64, u32)>,
}

impl Bins {
    /// Reduces `stretches`, sampled at `rate_hz`; `threshold` is what `below` counts under.
    ///
    /// # Errors
    /// [`StatsError::TooFew`] under [`MIN_BINS`] bins, [`StatsError::NotFinite`].
    pub fn new(stretches: &[Stretch<'_>], rate_hz: f64, threshold: f64) -> Result<Self, StatsError> {
        let what = "an interval for a series";
        let mut total = 0;
        for stretch in stretches {
            if let Some(at) = stretch.values.iter().position(|v| !v.is_finite()) {
                return Err(StatsError::NotFinite { what, position: total + at });
            }
            total += stretch.values.len();
        }
        if total < MIN_BINS {
            return Err(StatsError::TooFew { what, needed: MIN_BINS, found: total });
        }
        let moments = stretches.iter().fold(Moments::default(), |m, s| m.merge(Moments::of(s.values)));
        let width = total.div_ceil(MAX_BINS);
        let per_bin = (MAX_THINNED / MAX_BINS).min(width);
        let mut bins = Vec::with_capacity(MAX_BINS + stretches.len());
        let mut thinned = Vec::with_capacity(MAX_THINNED + per_bin * stretches.len());
        for stretch in stretches {
            for (place, chunk) in stretch.values.chunks(width).enumerate() {
                let first_s = stretch.start_s + (place * width) as f64 / rate_hz;
                let middle_s = first_s + (chunk.len() - 1) as f64 / 2.0 / rate_hz;
                let step = chunk.len().div_ceil(per_bin);
                let bin_index = bins.len() as u32;
                thinned.extend(chunk.iter().skip(step / 2).step_by(step).map(|&x| (x, bin_index)));
                bins.push(bin_of(chunk, moments.mean, threshold, middle_s));
            }
        }
        thinned.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        Ok(Self { moments, bins, thinned })
    }

    /// Share of the values under `x`.
    pub fn share_below(&self, x: f64) -> f64 {
        self.thinned.partition_point(|(value, _)| *value < x) as f64 / self.thinned.len() as f64
    }

    /// The value that a `share` of the values lies under.
    pub fn value_at(&self, share: f64) -> f64 {
        let place = ((share * self.thinned.len() as f64) as usize).min(self.thinned.len() - 1);
        // A series has values, and so a last one.
        self.thinned[place].0
    }

    /// For each bin, the share of its values that lie under `x`.
    pub fn under_by_bin(&self, x: f64) -> Vec<f64> {
        let mut counts = vec![(0.0, 0.0_f64); self.bins.len()];
        for (value, bin) in &self.thinned {
            let (under, all) = &mut counts[*bin as usize];
            *under += f64::from(u8::from(*value < x));
            *all += 1.0;
        }
        counts.into_iter().map(|(under, all)| under / all.max(1.0)).collect()
    }

    /// Share under `x`; below the lowest twentieth at least that of an exponential tail with the mean excess of
    /// that twentieth, which is heavier than a normal one (exceedances over a high threshold: Pickands 1975,
    /// Annals of Statistics 3(1), 119–131, shape 0).
    pub fn share_below_or_beyond(&self, x: f64) -> f64 {
        let lowest = self.thinned.iter().map(|(value, _)| *value);
        self.share_below(x).max(self.beyond(lowest, self.value_at(TAIL_SHARE), x))
    }

    /// The same for the share at or above `x`.
    pub fn share_above_or_beyond(&self, x: f64) -> f64 {
        let highest = self.thinned.iter().rev().map(|(value, _)| -*value);
        (1.0 - self.share_below(x)).max(self.beyond(highest, -self.value_at(1.0 - TAIL_SHARE), -x))
    }

    /// Share under `x` by the exponential tail of the values that rise up to `edge`; 0 where `x` is not beyond it.
    fn beyond(&self, rising: impl Iterator<Item = f64>, edge: f64, x: f64) -> f64 {
        let count = ((TAIL_SHARE * self.thinned.len() as f64) as usize).max(1);
        let excess = rising.take(count).map(|value| edge - value).sum::<f64>() / count as f64;
        if x < edge && excess > 0.0 { TAIL_SHARE * (-(edge - x) / excess).exp() } else { 0.0 }
    }
}

fn bin_of(chunk: &[f64], centre: f64, threshold: f64, middle_s: f64) -> Bin {
    let mut bin = Bin { count: chunk.len() as f64, middle_s, ..Bin::default() };
    for &x in chunk {
        let deviation = x - centre;
        bin.sum += deviation;
        bin.squares += deviation * deviation;
        bin.below += f64::from(u8::from(x < threshold));
    }
    bin
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bins_hold_every_value_once_and_never_span_a_gap() {
        let values: Vec<f64> = (0..5000).map(f64::from).collect();
        let (one, two) = values.split_at(1003);
        let stretches = [Stretch { start_s: 0.0, values: one }, Stretch { start_s: 100.0, values: two }];
        let bins = Bins::new(&stretches, 10.0, 7.0).unwrap();
        assert!(bins.bins.len() <= MAX_BINS + 2);
        assert_eq!(bins.bins.iter().map(|b| b.count).sum::<f64>(), 5000.0);
        assert_eq!(bins.bins.iter().map(|b| b.below).sum::<f64>(), 7.0);
        let squares: f64 = bins.bins.iter().map(|b| b.squares).sum();
        assert!((squares / bins.moments.sum_sq_dev - 1.0).abs() < 1e-12);
        // 1003 values in bins of 5: the last bin of the first stretch has three, at 100.0 to 100.2 s.
        assert_eq!(bins.bins[0].count, 5.0);
        let last = bins.bins[200];
        assert_eq!(last.count, 3.0);
        assert!((last.middle_s - 100.1).abs() < 1e-9);
        assert_eq!(bins.bins[201].middle_s, 100.2);
    }

    #[test]
    fn too_short_and_broken_series_are_errors() {
        let short = [Stretch { start_s: 0.0, values: &[1.0; 7] }];
        assert!(matches!(Bins::new(&short, 1.0, 0.0), Err(StatsError::TooFew { needed: 8, found: 7, .. })));
        let broken = [1.0, 1.0, f64::INFINITY];
        let two = [Stretch { start_s: 0.0, values: &[1.0; 7] }, Stretch { start_s: 9.0, values: &broken }];
        assert!(matches!(Bins::new(&two, 1.0, 0.0), Err(StatsError::NotFinite { position: 9, .. })));
    }
}
