//! Whether the draft grew with the speed within one run: the specific draft of pieces of the working part, against
//! the square of the speed, as the standard has it (B = 0 for moldboard plows).
//!
//! A line is fitted only if the speed varied enough, and an effect is claimed only if its interval excludes none.
//! Soil that changes along the pass makes neighbouring pieces alike; the interval is widened for that. What it
//! cannot see is a driver who slows down where the soil is hard.

use ingest::plow::SoilClass;
use serde::Serialize;
use statics::draft::{MOLDBOARD, soil_factor};
use stats::Estimate;
use stats::student::t_quantile;

/// Fewer pieces give no line.
const WINDOWS_MIN: usize = 8;
/// Nine tenths less one tenth of the pieces' speeds, over their mean, from which a line is fitted: by choice. The
/// standard has the draft of a plow at 6 km/h grow by 6 % over it.
const SPEED_SPAN_SHARE_MIN: f64 = 0.15;
/// An autocorrelation above this is taken to be this: so few pieces cannot show more.
const CORRELATION_MAX: f64 = 0.9;

/// One piece of the working part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// Mean speed, m/s.
    pub speed_mps: f64,
    /// Mean draft over mean cross-section, N/cm².
    pub specific_draft_n_per_cm2: f64,
}

/// What can be said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SpeedEffectState {
    /// No speed was recorded.
    NoSpeed,
    /// The working part is too short for enough pieces.
    TooFewWindows,
    /// The speed hardly varied: nothing can be said.
    SpeedTooEven,
    /// It varied, and no effect is shown.
    NotShown,
    /// The draft is shown to change with the speed.
    Shown,
}

/// The effect of speed in one run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SpeedEffect {
    /// What can be said.
    pub state: SpeedEffectState,
    /// Pieces it rests on.
    pub windows: usize,
    /// Speed of the slow and of the fast pieces (their 10th and 90th percentile), m/s.
    pub speeds_mps: Option<(f64, f64)>,
    /// Growth of the specific draft with the square of the speed, N/cm² per (km/h)²; null without a fit.
    pub slope_n_per_cm2_per_kmh2: Option<Estimate>,
}

/// Fits the line.
#[must_use]
pub fn speed_effect(windows: &[Window]) -> SpeedEffect {
    let count = windows.len();
    let none =
        |state, speeds_mps| SpeedEffect { state, windows: count, speeds_mps, slope_n_per_cm2_per_kmh2: None };
    if count == 0 {
        return none(SpeedEffectState::NoSpeed, None);
    }
    if count < WINDOWS_MIN {
        return none(SpeedEffectState::TooFewWindows, None);
    }
    let mut speeds: Vec<f64> = windows.iter().map(|window| window.speed_mps).collect();
    speeds.sort_by(f64::total_cmp);
    let at = |share: f64| speeds.get((share * (count - 1) as f64).round() as usize).copied();
    let slow_fast = at(0.1).zip(at(0.9));
    let mean = speeds.iter().sum::<f64>() / count as f64;
    let varied = |(slow, fast): (f64, f64)| (fast - slow) / mean >= SPEED_SPAN_SHARE_MIN;
    if !slow_fast.is_some_and(varied) {
        return none(SpeedEffectState::SpeedTooEven, slow_fast);
    }
    match slope(windows) {
        None => none(SpeedEffectState::NotShown, slow_fast),
        Some(slope) => {
            let shown = !slope.holds(0.0);
            let state = if shown { SpeedEffectState::Shown } else { SpeedEffectState::NotShown };
            SpeedEffect { slope_n_per_cm2_per_kmh2: Some(slope), ..none(state, slow_fast) }
        }
    }
}

/// Least squares. With residuals and speeds that both remember (first-order, r_e and r_x), the variance of the
/// slope grows by (1 + r_e r_x)/(1 − r_e r_x), and the pieces count for as many fewer (Bartlett 1946 for the
/// effective number; from memory).
fn slope(windows: &[Window]) -> Option<Estimate> {
    let n = windows.len() as f64;
    let x: Vec<f64> = windows.iter().map(|window| (window.speed_mps * 3.6).powi(2)).collect();
    let y: Vec<f64> = windows.iter().map(|window| window.specific_draft_n_per_cm2).collect();
    let mean = |values: &[f64]| values.iter().sum::<f64>() / n;
    let (x_mean, y_mean) = (mean(&x), mean(&y));
    let dx: Vec<f64> = x.iter().map(|x| x - x_mean).collect();
    let sxx: f64 = dx.iter().map(|d| d * d).sum();
    let slope = dx.iter().zip(&y).map(|(d, y)| d * (y - y_mean)).sum::<f64>() / sxx;
    let residuals: Vec<f64> = dx.iter().zip(&y).map(|(d, y)| y - y_mean - slope * d).collect();
    let both = correlation(&residuals) * correlation(&dx);
    let inflation = (1.0 + both) / (1.0 - both);
    let rss: f64 = residuals.iter().map(|r| r * r).sum();
    let dof = (n / inflation - 2.0).max(1.0);
    let error = (rss / (n - 2.0) / sxx * inflation).sqrt();
    Estimate::around(slope, t_quantile(0.975, dof) * error)
}

/// Correlation of neighbours, within 0 and [`CORRELATION_MAX`]. It is estimated too low from few pieces: by (1 + 4r)/n
/// about where a mean was taken out (Kendall 1954, from memory), by twice that where a line was; raised by the latter.
fn correlation(values: &[f64]) -> f64 {
    let all: f64 = values.iter().map(|v| v * v).sum();
    let neighbours: f64 = values.windows(2).map(|pair| pair[0] * pair[1]).sum();
    let r = if all > 0.0 { neighbours / all } else { 0.0 };
    (r + 2.0 * (1.0 + 4.0 * r.max(0.0)) / values.len() as f64).clamp(0.0, CORRELATION_MAX)
}

/// The standard's growth of the specific draft with the square of the speed, N/cm² per (km/h)².
#[must_use]
pub fn standard_effect(class: SoilClass) -> f64 {
    // 1 N per metre of width and centimetre of depth is 0.01 N/cm².
    soil_factor(class) * MOLDBOARD.c / 100.0
}
