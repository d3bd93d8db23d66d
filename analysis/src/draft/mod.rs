//! Whether the draft of a run can be: per cross-section of the furrow slices, beside the published draft of
//! moldboard plows, and with the speed where the speed varied.
//!
//! It is a check on sensors and descriptions, not on the plow: the published range is ±40 %.

use ingest::plow::SoilClass;
use ingest::quantity::{Force, Length, Speed};
use schemars::JsonSchema;
use serde::Serialize;
use statics::draft::{
    MOLDBOARD, MOLDBOARD_RANGE_SHARE, drawbar_power, soil_factor, specific_draft_n_per_cm2,
};
use stats::Estimate;
use stats::student::t_quantile;

/// Half of the 95 % interval of the width of cut, over the width: by choice. Each bottom cuts what the one
/// before leaves, but the first one's width goes with how the tractor is steered.
const WIDTH_HALF_WIDTH_SHARE: f64 = 0.05;

/// What the draft of a run is worked out from.
#[derive(Clone, Copy, Debug)]
pub struct DraftInputs<'a> {
    /// Mean pull along the drawbar in N; its interval holds readings and calibration.
    pub pull_n: Estimate,
    /// Rise of the drawbar per length forward.
    pub drawbar_slope: f64,
    /// Mean depth in mm; its interval holds readings and calibration.
    pub depth_mm: Estimate,
    /// Width of cut of all bottoms together in m.
    pub total_cut_m: f64,
    /// Mean speed in m/s, if there was a speed.
    pub speed_mps: Option<Estimate>,
    /// Class of the soil, if it was stated.
    pub soil_class: Option<SoilClass>,
    /// The working part in pieces, for the effect of speed; empty without a speed.
    pub windows: &'a [Window],
}

/// The draft of a run.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct RunDraft {
    /// Part of the pull in the direction of travel, N; the rolling of the wheels is in it.
    pub draft_n: Estimate,
    /// The same over the cross-section of the furrow slices, N/cm².
    pub specific_draft_n_per_cm2: Estimate,
    /// Width of cut that was taken, m.
    pub total_cut_m: f64,
    /// Mean speed, m/s; null without a speed.
    pub speed_mps: Option<Estimate>,
    /// Draft times mean speed, W; null without a speed.
    pub drawbar_power_w: Option<Estimate>,
    /// Class of the soil as it was stated.
    pub soil_class: Option<SoilClass>,
    /// Speeds at which the standard was taken, m/s: the mean, or a wide guess where there was none.
    pub standard_speeds_mps: (f64, f64),
    /// The standard's ranges, class by class.
    pub standard: Vec<SoilRange>,
    /// The draft against the range of the stated class.
    pub outcome: Outcome,
    /// Whether the draft grew with the speed in this run.
    pub speed_effect: SpeedEffect,
}

/// The draft of a run; `None` without depth or width, or with a figure that is not finite.
///
/// The specific draft is P_x / (w·d), P_x = P/√(1 + t²); relative uncertainties of its three factors, which are
/// independent, are combined in quadrature (JCGM 100:2008, 5.1.6).
pub fn run_draft(inputs: &DraftInputs<'_>) -> Option<RunDraft> {
    let draft_n = inputs.pull_n.scaled(1.0 / inputs.drawbar_slope.hypot(1.0));
    // 1 m is 100 cm and 1 mm a tenth of one.
    let area_cm2 = 10.0 * inputs.total_cut_m * inputs.depth_mm.value;
    if !(area_cm2 > 0.0 && draft_n.value > 0.0) {
        return None;
    }
    let share = relative(&draft_n)?.hypot(relative(&inputs.depth_mm)?).hypot(WIDTH_HALF_WIDTH_SHARE).min(1.0);
    let value = draft_n.value / area_cm2;
    let specific = Estimate::around(value, value * share)?;
    let speeds_kmh = inputs.speed_mps.map_or(SPEED_GUESS_KMH, |speed| (speed.value * 3.6, speed.value * 3.6));
    let standard = soil_ranges(&specific, speeds_kmh);
    let outcome = outcome(&standard, inputs.soil_class, &specific);
    let power = |speed: Estimate| {
        let share = relative(&draft_n)?.hypot(relative(&speed)?);
        let watt = drawbar_power(Force::from_n(draft_n.value), Speed::from_mps(speed.value)).w();
        Estimate::around(watt, watt * share)
    };
    Some(RunDraft {
        draft_n,
        specific_draft_n_per_cm2: specific,
        total_cut_m: inputs.total_cut_m,
        speed_mps: inputs.speed_mps,
        drawbar_power_w: inputs.speed_mps.and_then(power),
        soil_class: inputs.soil_class,
        standard_speeds_mps: (speeds_kmh.0 / 3.6, speeds_kmh.1 / 3.6),
        standard,
        outcome,
        speed_effect: speed_effect(inputs.windows),
    })
}

/// Half of an interval over its figure.
fn relative(figure: &Estimate) -> Option<f64> {
    let share = (figure.high - figure.low) / 2.0 / figure.value.abs();
    share.is_finite().then_some(share)
}

/// Speeds that are taken where none was measured, in km/h: by choice, as slow and as fast as plows are pulled.
const SPEED_GUESS_KMH: (f64, f64) = (3.0, 10.0);

/// The classes, from the highest draft to the lowest.
const CLASSES: [SoilClass; 3] = [SoilClass::Fine, SoilClass::Medium, SoilClass::Coarse];

/// What the standard has for one class of soil.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SoilRange {
    /// The class.
    pub soil: SoilClass,
    /// Lower end, N/cm²: 40 % under the figure at the slowest speed.
    pub low_n_per_cm2: f64,
    /// Upper end, N/cm²: 40 % over the figure at the fastest.
    pub high_n_per_cm2: f64,
    /// Whether the interval of the measured one and this range have anything in common.
    pub plausible: bool,
}

/// A measured draft against the range of the stated class.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// Within it.
    Within,
    /// Under it.
    Below,
    /// Over it.
    Above,
    /// No class was stated.
    NoClass,
}

/// The ranges of all classes between two speeds in km/h. Depth and width drop out of the standard's equation.
pub fn soil_ranges(specific_n_per_cm2: &Estimate, (slow_kmh, fast_kmh): (f64, f64)) -> Vec<SoilRange> {
    let of = |soil| {
        let at = |kmh: f64| {
            let (one_m, ten_cm) = (Length::from_m(1.0), Length::from_m(0.1));
            let draft = MOLDBOARD.draft(soil_factor(soil), Speed::from_mps(kmh / 3.6), 1.0, ten_cm);
            specific_draft_n_per_cm2(draft, one_m, ten_cm)
        };
        let low_n_per_cm2 = at(slow_kmh)? * (1.0 - MOLDBOARD_RANGE_SHARE);
        let high_n_per_cm2 = at(fast_kmh)? * (1.0 + MOLDBOARD_RANGE_SHARE);
        let plausible = specific_n_per_cm2.high >= low_n_per_cm2 && specific_n_per_cm2.low <= high_n_per_cm2;
        Some(SoilRange { soil, low_n_per_cm2, high_n_per_cm2, plausible })
    };
    CLASSES.into_iter().filter_map(of).collect()
}

fn outcome(ranges: &[SoilRange], class: Option<SoilClass>, specific: &Estimate) -> Outcome {
    let Some(range) = ranges.iter().find(|range| Some(range.soil) == class) else { return Outcome::NoClass };
    if specific.value < range.low_n_per_cm2 {
        Outcome::Below
    } else if specific.value > range.high_n_per_cm2 {
        Outcome::Above
    } else {
        Outcome::Within
    }
}

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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
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

/// Whether the draft grew with the speed within one run: the specific draft of pieces of the working part, against
/// the square of the speed, as the standard has it (B = 0 for moldboard plows).
///
/// A line is fitted only if the speed varied enough, and an effect is claimed only if its interval excludes none.
/// Soil that changes along the pass makes neighbouring pieces alike; the interval is widened for that. What it
/// cannot see is a driver who slows down where the soil is hard.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
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
pub fn standard_effect(class: SoilClass) -> f64 {
    // 1 N per metre of width and centimetre of depth is 0.01 N/cm².
    soil_factor(class) * MOLDBOARD.c / 100.0
}

#[cfg(test)]
pub(crate) mod tests;
