//! The figures of one channel of one run, each with a 95 % interval that respects autocorrelation.

use super::bins::{Bins, Stretch};
use super::bootstrap::{BlockPlan, BlockResampler, Resampling};
use super::descriptive::percentiles;
use super::student::Z_975;
use super::{Estimate, StatsError};

/// What to work out beside mean, spread and drift.
#[derive(Clone, Copy, Debug, Default)]
pub struct Wanted<'a> {
    /// Give the share of time under this value.
    pub below: Option<f64>,
    /// Give these percentiles, 0 to 100.
    pub at_percent: &'a [f64],
}

/// The figures of a series, in the unit `u` of its values.
#[derive(Clone, Debug, PartialEq)]
pub struct SeriesFigures {
    /// Mean, u.
    pub mean: Estimate,
    /// Standard deviation (divisor n − 1), u.
    pub sd: Estimate,
    /// Variance (divisor n − 1), u².
    pub variance: Estimate,
    /// SD / |mean|; `None` when the interval of the mean holds 0, where the ratio has no bounds.
    pub cv: Option<Estimate>,
    /// Slope of the least-squares line, u per minute.
    pub drift_per_min: Estimate,
    /// Share of time (0 to 1) under [`Wanted::below`], if that was asked for.
    pub below_share: Option<Estimate>,
    /// Percentiles in the order of [`Wanted::at_percent`], u.
    pub percentiles: Vec<Estimate>,
    /// Mean length of the resampled blocks, s: how long the series remembers.
    pub block_s: f64,
}

/// The figures of a series given as gap-free `stretches` at `rate_hz`, with intervals from the stationary
/// bootstrap.
///
/// Figures are worked out from every value; only the intervals come from the reduced series of
/// [`super::bins`]. Interval ends are the 2.5th and 97.5th percentile of the resampled figure, their distance
/// from the figure of the unresampled bins stretched by t/z for few blocks. A constant series gives intervals
/// of no width.
///
/// # Errors
/// [`StatsError::TooFew`] for fewer than [`super::bins::MIN_BINS`] values, [`StatsError::NotFinite`].
pub fn series_figures(
    stretches: &[Stretch<'_>],
    rate_hz: f64,
    wanted: Wanted<'_>,
    resampling: Resampling,
) -> Result<SeriesFigures, StatsError> {
    let bins = Bins::new(stretches, rate_hz, wanted.below.unwrap_or(f64::NEG_INFINITY))?;
    let plan = BlockPlan::for_bins(&bins)?;
    let line = Line::through(&bins);
    let draws = Draws::new(&bins, &plan, &line, wanted.at_percent, resampling);
    let finish = |value: f64, centre: f64, drawn: &[f64]| interval(value, centre, drawn, plan.stretch);

    let variance_value = bins.moments.variance().unwrap_or(0.0);
    let mean = finish(bins.moments.mean, 0.0, &draws.mean_shift)?;
    // The log keeps the interval of a positive figure positive and its skewness right.
    let sd = finish_positive(variance_value.sqrt(), &draws.sd, plan.stretch)?;
    let variance = Estimate { value: variance_value, low: sd.low * sd.low, high: sd.high * sd.high };
    let cv_value = sd.value / mean.value.abs();
    let cv = (!mean.holds(0.0)).then(|| {
        let drawn: Vec<f64> =
            draws.sd.iter().zip(&draws.mean_shift).map(|(s, shift)| s / (mean.value + shift).abs()).collect();
        finish_positive(cv_value, &drawn, plan.stretch)
    });
    let below_share = match wanted.below {
        Some(_) => {
            let looks =
                independent_looks(variance_value, &mean).clamp(plan.blocks, bins.moments.count as f64);
            Some(share_interval(&bins, looks, plan.stretch, &draws.below_share)?)
        }
        None => None,
    };
    let all: Vec<f64> = stretches.iter().flat_map(|s| s.values.iter().copied()).collect();
    let exact = percentiles(&all, wanted.at_percent)?;
    let ones = vec![1; bins.bins.len()];
    let thinned = weighted_percentiles(&bins, &ones, wanted.at_percent, &mut Vec::new());
    let percentiles = exact
        .iter()
        .zip(thinned)
        .zip(&draws.percentiles)
        .map(|((&value, centre), drawn)| finish(value, centre, drawn))
        .collect::<Result<_, _>>()?;
    Ok(SeriesFigures {
        mean,
        sd,
        variance,
        cv: cv.transpose()?,
        drift_per_min: finish(line.slope_per_s, 0.0, &draws.slope_shift)?.scaled(60.0),
        below_share,
        percentiles,
        block_s: plan.mean_block * bins.width as f64 / rate_hz,
    })
}

/// `value` + stretch·(percentiles of `drawn` − `centre`), widened if need be to hold the value.
fn interval(value: f64, centre: f64, drawn: &[f64], stretch: f64) -> Result<Estimate, StatsError> {
    let ends = percentiles(drawn, &[2.5, 97.5])?;
    let end = |i: usize| ends.get(i).map_or(0.0, |q| stretch * (q - centre));
    Ok(Estimate { value, low: value + end(0).min(0.0), high: value + end(1).max(0.0) })
}

/// For the spread of a series: the distances of the resampled logarithms to the interval's ends, swapped.
///
/// A spread is a scale: ln(s/σ) has a law that does not depend on σ, so ln σ lies as far *above* ln s as
/// resampled values lie below it (the "basic" interval of Davison & Hinkley 1997, Bootstrap Methods, 5.2).
/// Percentile intervals have it the wrong way round and missed too often from below in the coverage test. A
/// figure of 0 gets no width.
fn finish_positive(value: f64, drawn: &[f64], stretch: f64) -> Result<Estimate, StatsError> {
    if value == 0.0 {
        return Ok(Estimate { value, low: value, high: value });
    }
    // A resampled series made of one constant block has SD 0; half the smallest normal number keeps its log
    // finite.
    let logs: Vec<f64> = drawn.iter().map(|x| x.max(f64::MIN_POSITIVE).ln()).collect();
    let in_log = interval(value.ln(), value.ln(), &logs, stretch)?;
    Ok(Estimate { value, low: value * value / in_log.high.exp(), high: value * value / in_log.low.exp() })
}

/// How many independent values would give a mean as sure as this one: variance over squared standard error.
fn independent_looks(variance: f64, mean: &Estimate) -> f64 {
    let standard_error = (mean.high - mean.low) / (2.0 * Z_975);
    if standard_error > 0.0 { variance / (standard_error * standard_error) } else { 1.0 }
}

/// Share of time under the threshold.
///
/// A series that never (or always) is under it resamples to the same share every time, which would claim
/// certainty. There the far end is the exact binomial one for as many independent `looks` as the series is
/// worth, 1 − 0.025^(1/looks) (Clopper & Pearson 1934, Biometrika 26, 404–413).
fn share_interval(bins: &Bins, looks: f64, stretch: f64, drawn: &[f64]) -> Result<Estimate, StatsError> {
    let below: f64 = bins.bins.iter().map(|b| b.below).sum();
    let count = bins.moments.count as f64;
    let value = below / count;
    let unseen = 1.0 - 0.025_f64.powf(1.0 / looks);
    if below == 0.0 {
        return Ok(Estimate { value: 0.0, low: 0.0, high: unseen });
    }
    if below == count {
        return Ok(Estimate { value: 1.0, low: 1.0 - unseen, high: 1.0 });
    }
    let wide = interval(value, value, drawn, stretch)?;
    Ok(Estimate { value, low: wide.low.max(0.0), high: wide.high.min(1.0) })
}

/// Least-squares line through the bin means, weighted by their counts.
struct Line {
    slope_per_s: f64,
    /// Count times (middle of the bin − mean time), per bin: with it a slope is one dot product.
    levers: Vec<f64>,
    /// Σ count (middle − mean time)².
    lever_sum: f64,
    /// What is left of each bin mean beside the line.
    residuals: Vec<f64>,
}

impl Line {
    fn through(bins: &Bins) -> Self {
        let total: f64 = bins.bins.iter().map(|b| b.count).sum();
        let middle = bins.bins.iter().map(|b| b.count * b.middle_s).sum::<f64>() / total;
        let levers: Vec<f64> = bins.bins.iter().map(|b| b.count * (b.middle_s - middle)).collect();
        let lever_sum: f64 = bins.bins.iter().zip(&levers).map(|(b, l)| l * (b.middle_s - middle)).sum();
        let moment: f64 = bins.bins.iter().zip(&levers).map(|(b, l)| l * b.sum / b.count).sum();
        let slope_per_s = if lever_sum > 0.0 { moment / lever_sum } else { 0.0 };
        let residuals =
            bins.bins.iter().map(|b| b.sum / b.count - slope_per_s * (b.middle_s - middle)).collect();
        Self { slope_per_s, levers, lever_sum, residuals }
    }

    /// Slope that resampled residuals alone would show: what chance adds to the true slope.
    fn chance_slope(&self, picks: &[u32]) -> f64 {
        if self.lever_sum == 0.0 {
            return 0.0;
        }
        let residual = |&i: &u32| self.residuals.get(i as usize).copied().unwrap_or(0.0);
        self.levers.iter().zip(picks.iter().map(residual)).map(|(l, r)| l * r).sum::<f64>() / self.lever_sum
    }
}

/// The figures of every resampled series.
struct Draws {
    mean_shift: Vec<f64>,
    sd: Vec<f64>,
    below_share: Vec<f64>,
    slope_shift: Vec<f64>,
    /// One list per percentile asked for.
    percentiles: Vec<Vec<f64>>,
}

impl Draws {
    fn new(bins: &Bins, plan: &BlockPlan, line: &Line, at_percent: &[f64], resampling: Resampling) -> Self {
        let replicates = resampling.replicates.max(1);
        let list = || Vec::with_capacity(replicates);
        let mut draws = Self {
            mean_shift: list(),
            sd: list(),
            below_share: list(),
            slope_shift: list(),
            percentiles: at_percent.iter().map(|_| list()).collect(),
        };
        let mut resampler = BlockResampler::new(bins.bins.len(), plan.mean_block, resampling.seed);
        let mut picks = Vec::with_capacity(bins.bins.len());
        let mut times_picked = vec![0_u32; bins.bins.len()];
        let mut running = Vec::with_capacity(bins.thinned.len());
        for _ in 0..replicates {
            resampler.draw(&mut picks);
            times_picked.fill(0);
            for &i in &picks {
                if let Some(times) = times_picked.get_mut(i as usize) {
                    *times += 1;
                }
            }
            let (mut count, mut sum, mut squares, mut below) = (0.0, 0.0, 0.0, 0.0);
            for (bin, &times) in bins.bins.iter().zip(&times_picked) {
                let times = f64::from(times);
                count += times * bin.count;
                sum += times * bin.sum;
                squares += times * bin.squares;
                below += times * bin.below;
            }
            draws.mean_shift.push(sum / count);
            draws.sd.push(((squares - sum * sum / count).max(0.0) / (count - 1.0)).sqrt());
            draws.below_share.push(below / count);
            draws.slope_shift.push(line.chance_slope(&picks));
            let drawn = weighted_percentiles(bins, &times_picked, at_percent, &mut running);
            draws.percentiles.iter_mut().zip(drawn).for_each(|(list, q)| list.push(q));
        }
        draws
    }
}

/// Percentiles of the thinned values when bin `i` counts `times[i]` times; `running` is scratch space.
fn weighted_percentiles(bins: &Bins, times: &[u32], at_percent: &[f64], running: &mut Vec<u32>) -> Vec<f64> {
    if at_percent.is_empty() {
        return Vec::new();
    }
    running.clear();
    let mut total = 0_u32;
    running.extend(bins.thinned.iter().map(|&(_, bin)| {
        total += times.get(bin as usize).copied().unwrap_or(0);
        total
    }));
    let value_at = |percent: &f64| {
        // At least 1, so that 0 % is the lowest value drawn and not the lowest there is.
        let target = ((percent / 100.0).clamp(0.0, 1.0) * f64::from(total)).max(1.0);
        let place = running.partition_point(|&sum| f64::from(sum) < target);
        bins.thinned.get(place).or(bins.thinned.last()).map_or(0.0, |&(x, _)| x)
    };
    at_percent.iter().map(value_at).collect()
}

#[cfg(test)]
mod tests;
