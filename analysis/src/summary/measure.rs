//! The figures of pull, depth and tail load over the working part, and when the load was lifted.

use super::figures::{DepthFigures, PullFigures, TailLoadFigures};
use signals::{Segment, Signals, stretches};
use spectra::background::BIN_CORRELATION;
use spectra::low_frequency_gain::LowFrequencyGain;
use statics::plow_model::LIFTED_SHARE_OF_STATIC;
use stats::series_figures::{SeriesFigures, Wanted, series_figures};
use stats::student::Z_975;
use stats::{Estimate, StatsError};

/// Stretches with the load under `threshold_n`, from and to in s; a stretch ends at a gap.
pub fn lifted_stretches(
    load_n: &[f64],
    segments: &[Segment],
    rate_hz: f64,
    threshold_n: f64,
) -> Vec<(f64, f64)> {
    let mut stretches = Vec::new();
    for segment in segments {
        let Some(loads) = load_n.get(segment.rows.clone()) else { continue };
        let time = |row: usize| segment.start_s + row as f64 / rate_hz;
        let mut from = 0;
        for alike in loads.chunk_by(|one, next| (*one < threshold_n) == (*next < threshold_n)) {
            let end = from + alike.len();
            if alike.first().is_some_and(|load| *load < threshold_n) {
                stretches.push((time(from), time(end)));
            }
            from = end;
        }
    }
    stretches
}

/// The working part's rows of one channel, with what the statistics need to know.
#[derive(Clone, Copy)]
pub(super) struct Channel<'a> {
    pub signals: &'a Signals,
    pub segments: &'a [Segment],
    pub values: &'a [f64],
}

impl Channel<'_> {
    fn figures(&self, wanted: Wanted<'_>) -> Result<SeriesFigures, StatsError> {
        series_figures(&stretches(self.values, self.segments), self.signals.rate_hz, wanted)
    }
}

fn percentile(figures: &SeriesFigures, index: usize) -> Result<Estimate, StatsError> {
    let missing = StatsError::TooFew { what: "a percentile", needed: 1, found: 0 };
    figures.percentiles.get(index).copied().ok_or(missing)
}

pub(super) fn pull(channel: Channel<'_>) -> Result<PullFigures, StatsError> {
    let figures = channel.figures(Wanted { below: None, at_percent: &[5.0, 95.0] })?;
    let (p5_n, p95_n) = (percentile(&figures, 0)?, percentile(&figures, 1)?);
    Ok(PullFigures { mean_n: figures.mean, sd_n: figures.sd, p5_n, p95_n })
}

pub(super) fn depth(channel: Channel<'_>) -> Result<DepthFigures, StatsError> {
    let figures = channel.figures(Wanted { below: None, at_percent: &[5.0, 95.0] })?;
    Ok(DepthFigures {
        mean_mm: figures.mean,
        sd_mm: figures.sd,
        variance_mm2: figures.variance,
        p5_mm: percentile(&figures, 0)?,
        p95_mm: percentile(&figures, 1)?,
        drift_mm_per_min: figures.drift_per_min,
    })
}

/// `channel` in N; under a share of `static_n`, the load of the standing plow, the wheel counts as lifted.
pub(super) fn tail_load(channel: Channel<'_>, static_n: Option<f64>) -> Result<TailLoadFigures, StatsError> {
    let threshold_n = static_n.map(|static_n| LIFTED_SHARE_OF_STATIC * static_n);
    let figures = channel.figures(Wanted { below: threshold_n, at_percent: &[] })?;
    let longest_s = |threshold_n| {
        let lifts = lifted_stretches(channel.values, channel.segments, channel.signals.rate_hz, threshold_n);
        lifts.iter().map(|(from, to)| to - from).fold(0.0, f64::max)
    };
    Ok(TailLoadFigures {
        static_n,
        mean_n: figures.mean,
        sd_n: figures.sd,
        cv: figures.cv,
        lifted_share: figures.below_share,
        // The longest lift is what was seen; a longer pass would show a longer one, so it has no interval.
        longest_lift_s: threshold_n.map(longest_s).and_then(Estimate::exact),
    })
}

/// Share of time under `threshold`, in the channel's unit.
pub(super) fn below_share(channel: Channel<'_>, threshold: f64) -> Result<Estimate, StatsError> {
    let missing = StatsError::TooFew { what: "a share of time", needed: 1, found: 0 };
    channel.figures(Wanted { below: Some(threshold), at_percent: &[] })?.below_share.ok_or(missing)
}

/// A band's coherence with its interval: atanh|γ| is near normal with variance 1/(2n − 2), n the independent
/// segments times bins that it was averaged over (Enochson & Goodman 1965; from memory); neighbouring bins
/// repeat each other under the Hann window, by [`BIN_CORRELATION`].
pub(super) fn coherence(found: &LowFrequencyGain) -> Estimate {
    let segments = found.segments as f64;
    // Half of Welch's equivalent degrees of freedom for half-overlapping Hann segments.
    let bins = (found.bins as f64 / BIN_CORRELATION).max(1.0);
    let independent = 18.0 * segments * segments / (19.0 * segments - 1.0) * bins;
    let half_width = Z_975 / (2.0 * independent - 2.0).max(1.0).sqrt();
    let z = found.coherence.sqrt().min(1.0 - 1e-12).atanh();
    let back = |z: f64| z.max(0.0).tanh().powi(2);
    Estimate { value: found.coherence, low: back(z - half_width), high: back(z + half_width) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_distr::{Distribution, StandardNormal};
    use spectra::low_frequency_gain::low_frequency_gain;

    #[test]
    fn stretches_begin_and_end_at_the_threshold_and_at_gaps() {
        let load = [5.0, 0.0, 0.0, 5.0, 0.0, 0.0, 0.0, 5.0];
        let segments = [Segment { start_s: 10.0, rows: 0..5 }, Segment { start_s: 20.0, rows: 5..8 }];
        let found = lifted_stretches(&load, &segments, 10.0, 1.0);
        assert_eq!(found.len(), 3, "{found:?}");
        for ((from, to), (expected_from, expected_to)) in
            found.iter().zip([(10.1, 10.3), (10.4, 10.5), (20.0, 20.2)])
        {
            assert!((from - expected_from).abs() < 1e-9 && (to - expected_to).abs() < 1e-9, "{found:?}");
        }
    }

    /// Input and noise of the same colour, so that the coherence is the same at every frequency.
    #[test]
    fn the_interval_holds_the_true_coherence_as_often_as_it_says() {
        for (noise, truth) in [(0.5_f64, 0.8), (1.0, 0.5)] {
            let held = (0..100).filter(|seed| {
                let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(*seed);
                let mut next = || -> f64 { StandardNormal.sample(&mut rng) };
                let (mut slow, mut other) = (0.0, 0.0);
                let (x, y): (Vec<f64>, Vec<f64>) = (0..6000)
                    .map(|_| {
                        (slow, other) = (0.9 * slow + next(), 0.9 * other + next());
                        (slow, slow + noise * other)
                    })
                    .unzip();
                coherence(&low_frequency_gain(&[&x], &[&y], 100.0, 1000, 1.0).unwrap()).holds(truth)
            });
            let held = held.count();
            assert!(held >= 88, "coherence {truth}: {held} of 100");
        }
    }
}
