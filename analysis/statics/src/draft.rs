//! Draft of moldboard plows to be expected, as a plausibility check on a measured pull.
//!
//! ASABE D497.7 (R2020), clause 4 and Table 1: D = F·(A + B·v + C·v²)·w·T with D in N, v in km/h, w in m,
//! T in cm; moldboard plow A = 652, B = 0, C = 5.1, F = 1.0 (fine), 0.70 (medium), 0.45 (coarse), range ±40
//! %. The coefficients were read in three independent re-typed parameter files, not in the standard itself.

use ingest::plow::SoilClass;
use ingest::quantity::{Force, Length, Power, Speed, in_si};
use schemars::JsonSchema;
use serde::Serialize;

/// Machine row of Table 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DraftRow {
    /// In N per (m · cm).
    pub a: f64,
    /// Per km/h.
    pub b: f64,
    /// Per (km/h)².
    pub c: f64,
}

/// The row "moldboard plow".
pub const MOLDBOARD: DraftRow = DraftRow { a: 652.0, b: 0.0, c: 5.1 };

/// Machine-to-machine and soil-to-soil range that the standard gives for moldboard plows.
pub const MOLDBOARD_RANGE_SHARE: f64 = 0.40;

/// Draft to be expected, and the standard's range around it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ExpectedDraft {
    /// The standard's figure.
    #[serde(rename = "draft_n", serialize_with = "in_si")]
    pub draft: Force,
    /// 40 % less.
    #[serde(rename = "low_n", serialize_with = "in_si")]
    pub low: Force,
    /// 40 % more.
    #[serde(rename = "high_n", serialize_with = "in_si")]
    pub high: Force,
}

impl DraftRow {
    /// The draft. `width` is in m for a plow, or a number of tools where the row is per tool.
    pub fn draft(self, soil_factor: f64, speed: Speed, width: f64, depth: Length) -> Force {
        let v_kmh = speed.mps() * 3.6;
        let per_width = soil_factor * (self.a + self.b * v_kmh + self.c * v_kmh * v_kmh);
        Force::from_n(per_width * width * (depth.m() * 100.0))
    }
}

/// F of the moldboard row.
pub fn soil_factor(soil: SoilClass) -> f64 {
    match soil {
        SoilClass::Fine => 1.0,
        SoilClass::Medium => 0.70,
        SoilClass::Coarse => 0.45,
    }
}

/// Draft of a moldboard plow of a total width of cut, with the standard's range.
pub fn moldboard_draft(soil: SoilClass, speed: Speed, total_cut: Length, depth: Length) -> ExpectedDraft {
    let draft = MOLDBOARD.draft(soil_factor(soil), speed, total_cut.m(), depth);
    let times = |factor: f64| Force::from_n(draft.n() * factor);
    let (low, high) = (times(1.0 - MOLDBOARD_RANGE_SHARE), times(1.0 + MOLDBOARD_RANGE_SHARE));
    ExpectedDraft { draft, low, high }
}

/// Draft per cross-section of the furrow slices, in N/cm²; `None` without a cross-section.
pub fn specific_draft_n_per_cm2(draft: Force, total_cut: Length, depth: Length) -> Option<f64> {
    let area_cm2 = total_cut.m() * depth.m() * 1e4;
    (area_cm2 > 0.0).then(|| draft.n() / area_cm2)
}

/// Power that a draft takes at a speed.
pub fn drawbar_power(draft: Force, speed: Speed) -> Power {
    Power::from_w(draft.n() * speed.mps())
}
