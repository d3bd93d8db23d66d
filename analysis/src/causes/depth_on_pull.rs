//! How depth follows the pull slowly: a sign of shares that carry the plow which needs no balance of forces.
//!
//! Wheels that hold leave the depth alone but for the give of their springs. Shares that carry ride up in hard ground
//! and sink in soft ground, so the depth falls where the pull rises.

use ingest::plow::Plow;
use ingest::quantity::Quantity;
use serde::Serialize;
use stats::Estimate;

/// Softest front wheels on land that are allowed for, N/m: by choice, for no description states it.
const FRONT_STIFFNESS_N_PER_M: f64 = 100_000.0;

/// Slow gain of depth on pull, below the band of bobbing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DepthOnPull {
    /// As measured, with its 95 % interval, m/N.
    pub gain_m_per_n: Estimate,
    /// The same after the tail wheel's spring is taken out as it was measured, reading by reading, m/N.
    pub beyond_tail_spring_m_per_n: Estimate,
    /// What the give of the front wheels explains where the soil carries nothing, m/N; 0 or below.
    pub front_gives_m_per_n: f64,
    /// Mean pull, N.
    pub pull_n: f64,
    /// Whether the second gain, with its whole interval, and the first are below what wheels explain.
    pub shares_carry: bool,
}

impl DepthOnPull {
    /// From both gains (m/N), the tail load's slow gain on the pull (N/N) and the rise of the drawbar per length
    /// forward.
    #[must_use]
    pub fn of(
        plow: &Plow,
        (gain_m_per_n, beyond_tail_spring_m_per_n): (Estimate, Estimate),
        tail_gain_n_per_n: Estimate,
        drawbar_slope: f64,
        pull_n: f64,
    ) -> Option<Self> {
        let lever = tail_lever(plow)?;
        // Level soil force: front and tail together lose what the drawbar lifts, so the front loses the slope plus
        // the tail's gain. The upper end of that gain leaves the most to the front wheels.
        let front_loses = (drawbar_slope + tail_gain_n_per_n.high).max(0.0);
        let front_gives_m_per_n = -(1.0 - lever).max(0.0) * front_loses / FRONT_STIFFNESS_N_PER_M;
        let shares_carry = beyond_tail_spring_m_per_n.high < front_gives_m_per_n && gain_m_per_n.high < 0.0;
        Some(Self { gain_m_per_n, beyond_tail_spring_m_per_n, front_gives_m_per_n, pull_n, shares_carry })
    }
}

/// How much of a small sinking of the tail wheel comes to the bottoms: their place over the tail wheel's, both
/// counted from the front wheels; `None` without a tail wheel behind the bottoms.
#[must_use]
pub fn tail_lever(plow: &Plow) -> Option<f64> {
    let tail_x_m = plow.tail.wheel()?.x.value.si();
    let lever = plow.bottoms.x.value.si() / tail_x_m;
    (tail_x_m < 0.0 && (0.0..=1.0).contains(&lever)).then_some(lever)
}
