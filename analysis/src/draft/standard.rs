//! The published draft, per cross-section, beside a measured one.

use ingest::plow::SoilClass;
use ingest::quantity::{Length, Speed};
use serde::Serialize;
use statics::draft::{MOLDBOARD, MOLDBOARD_RANGE_SHARE, soil_factor, specific_draft_n_per_cm2};
use stats::Estimate;

/// Speeds that are taken where none was measured, in km/h: by choice, as slow and as fast as plows are pulled.
pub(super) const SPEED_GUESS_KMH: (f64, f64) = (3.0, 10.0);

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

pub(super) fn outcome(ranges: &[SoilRange], class: Option<SoilClass>, specific: &Estimate) -> Outcome {
    let Some(range) = ranges.iter().find(|range| Some(range.soil) == class) else { return Outcome::NoClass };
    if specific.value < range.low_n_per_cm2 {
        Outcome::Below
    } else if specific.value > range.high_n_per_cm2 {
        Outcome::Above
    } else {
        Outcome::Within
    }
}
