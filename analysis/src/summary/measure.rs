//! The figures of pull, depth and tail load over the working part.

use super::figures::{DepthFigures, PullFigures, TailLoadFigures};
use super::lifts::lifted_stretches;
use crate::signals::{Segment, Signals, stretches};
use crate::stats::bootstrap::Resampling;
use crate::stats::series_figures::{SeriesFigures, Wanted, series_figures};
use crate::stats::{Estimate, StatsError};

/// Seed of the bootstrap: the same run gives the same figures.
const BOOTSTRAP: Resampling = Resampling { replicates: 1000, seed: 20_270_411 };

/// The working part's rows of one channel, with what the statistics need to know.
#[derive(Clone, Copy)]
pub(super) struct Channel<'a> {
    pub signals: &'a Signals,
    pub segments: &'a [Segment],
    pub values: &'a [f64],
}

impl Channel<'_> {
    fn figures(&self, wanted: Wanted<'_>) -> Result<SeriesFigures, StatsError> {
        series_figures(&stretches(self.values, self.segments), self.signals.rate_hz, wanted, BOOTSTRAP)
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

/// `channel` in N; `threshold_n` is the load under which the wheel counts as lifted.
pub(super) fn tail_load(
    channel: Channel<'_>,
    static_n: f64,
    threshold_n: f64,
) -> Result<TailLoadFigures, StatsError> {
    let figures = channel.figures(Wanted { below: Some(threshold_n), at_percent: &[] })?;
    let lifts = lifted_stretches(channel.values, channel.segments, channel.signals.rate_hz, threshold_n);
    let longest_s = lifts.iter().map(|(from, to)| to - from).fold(0.0, f64::max);
    // The longest lift is what was seen; a longer pass would show a longer one, so it has no interval.
    let longest_lift_s = Estimate { value: longest_s, low: longest_s, high: longest_s };
    let none = Estimate { value: 0.0, low: 0.0, high: 0.0 };
    Ok(TailLoadFigures {
        static_n,
        mean_n: figures.mean,
        sd_n: figures.sd,
        cv: figures.cv,
        lifted_share: figures.below_share.unwrap_or(none),
        longest_lift_s,
    })
}
