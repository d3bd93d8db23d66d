//! How long the blocks of the stationary bootstrap must be for a series to keep its dependence.

use super::{StatsError, require};

/// Shortest series for which a block length is given.
pub const MIN_VALUES: usize = 8;

/// The mean block length for the stationary bootstrap, in values of the series (at least 1).
///
/// Method: Politis & White 2004, Econometric Reviews 23(1), 53–70, with the correction of Patton, Politis &
/// White 2009, ibid. 28(4), 372–375: b = (2G²n / 2S²)^(1/3) with G = Σ|k|λ(k/M)R(k) and S = Σλ(k/M)R(k) over
/// a flat-top window λ of half-width M, capped at ⌈min(3√n, n/3)⌉.
///
/// M is twice the *first* of K lags in a row whose autocorrelation lies within ±2√(log₁₀n/n), K = max(5,
/// ⌊log₁₀n⌋). That is the reading of the Python package arch, which the reference values are made with; the
/// paper's m̂ is one lag smaller. The differences are small beside the spread of the estimate itself, and a
/// second implementation to check against is worth more.
///
/// # Errors
/// [`StatsError::TooFew`] under [`MIN_VALUES`] values; [`StatsError::NotFinite`].
pub fn optimal_block_length(series: &[f64]) -> Result<f64, StatsError> {
    require("the block length", series, MIN_VALUES)?;
    let mean = super::Moments::of(series).mean;
    let deviations: Vec<f64> = series.iter().map(|x| x - mean).collect();
    let n = series.len() as f64;
    let run = 5.max(n.log10() as usize);
    // A lag needs at least one pair left over; arch reaches past the end on series under about 30 values.
    let lag_max = (n.sqrt().ceil() as usize + run).min(series.len() - 2);
    let (covariances, correlations) = lag_statistics(&deviations, lag_max);
    let band = 2.0 * (n.log10() / n).sqrt();
    let window = match first_quiet_lag(&correlations, run, band) {
        Some(lag) => (2 * lag.max(1)).min(lag_max),
        None => lag_max,
    };
    let (mut weighted_lags, mut long_run) = (0.0, covariances.first().copied().unwrap_or(0.0));
    for (k, covariance) in covariances.iter().enumerate().take(window + 1).skip(1) {
        let share = k as f64 / window as f64;
        let flat_top = if share <= 0.5 { 1.0 } else { 2.0 * (1.0 - share) };
        weighted_lags += 2.0 * flat_top * k as f64 * covariance;
        long_run += 2.0 * flat_top * covariance;
    }
    let cap = (3.0 * n.sqrt()).min(n / 3.0).ceil();
    if long_run == 0.0 {
        // A constant series: any block serves. Otherwise the long-run variance vanished and only the cap is
        // safe.
        return Ok(if weighted_lags == 0.0 { 1.0 } else { cap });
    }
    let length = ((weighted_lags / long_run).powi(2) * n).cbrt();
    Ok(length.clamp(1.0, cap))
}

/// Autocovariances (divisor n) and absolute autocorrelations at lags 0 ..= `lag_max`.
///
/// Each correlation is scaled by the energies of the two shifted pieces, as arch does, so that it stays
/// comparable with the band at long lags.
fn lag_statistics(deviations: &[f64], lag_max: usize) -> (Vec<f64>, Vec<f64>) {
    let n = deviations.len() as f64;
    let energy = |piece: &[f64]| piece.iter().map(|x| x * x).sum::<f64>();
    let all = energy(deviations);
    let (mut head_cut, mut tail_cut) = (0.0, 0.0);
    let ends = deviations.iter().zip(deviations.iter().rev());
    let mut covariances = Vec::with_capacity(lag_max + 1);
    let mut correlations = Vec::with_capacity(lag_max + 1);
    for (lag, (first, last)) in ends.enumerate().take(lag_max + 1) {
        head_cut += first * first;
        tail_cut += last * last;
        let later = deviations.iter().skip(lag);
        let product: f64 = later.zip(deviations).map(|(a, b)| a * b).sum();
        covariances.push(product / n);
        let scale = ((all - head_cut).max(0.0) * (all - tail_cut).max(0.0)).sqrt();
        correlations.push(if scale > 0.0 { product.abs() / scale } else { 0.0 });
    }
    (covariances, correlations)
}

/// The first lag of `run` lags in a row whose absolute correlation is under `band`; only runs that end before
/// the last lag count.
fn first_quiet_lag(correlations: &[f64], run: usize, band: f64) -> Option<usize> {
    let all_but_last = correlations.split_last().map_or(&[][..], |(_, rest)| rest);
    all_but_last.windows(run).position(|w| w.iter().all(|&r| r < band))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_constant_series_gets_blocks_of_one() {
        assert_eq!(optimal_block_length(&[3.7; 50]), Ok(1.0));
    }

    #[test]
    fn short_series_are_refused_and_just_long_enough_ones_served() {
        assert!(matches!(
            optimal_block_length(&[1.0; 7]),
            Err(StatsError::TooFew { needed: 8, found: 7, .. })
        ));
        for n in 8..40 {
            let series: Vec<f64> = (0..n).map(|i| f64::from(i * 7 % 5)).collect();
            let b = optimal_block_length(&series).unwrap();
            assert!(b.is_finite() && b >= 1.0 && b <= f64::from(n), "n {n}: {b}");
        }
    }
}
