//! Whether the draft of a run can be: per cross-section of the furrow slices, beside the published draft of
//! moldboard plows, and with the speed where the speed varied.
//!
//! It is a check on sensors and descriptions, not on the plow: the published range is ±40 %.

mod speed_effect;

pub use speed_effect::{SpeedEffect, SpeedEffectState, Window, speed_effect, standard_effect};

use ingest::plow::SoilClass;
use ingest::quantity::{Force, Length, Speed};
use serde::Serialize;
use statics::draft::{
    MOLDBOARD, MOLDBOARD_RANGE_SHARE, drawbar_power, soil_factor, specific_draft_n_per_cm2,
};
use stats::Estimate;

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
#[derive(Clone, Debug, PartialEq, Serialize)]
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
#[must_use]
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
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
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
#[must_use]
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

#[cfg(test)]
pub(crate) mod tests;
