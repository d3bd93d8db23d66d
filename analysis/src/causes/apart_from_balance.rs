//! Two signs that need no balance of forces: how depth follows the pull slowly, of shares that carry the plow; and
//! whether the front wheels lose the ground at the peaks of the pull, of a drawbar too steep.
//!
//! Wheels that hold leave the depth alone but for the give of their springs. Shares that carry ride up in hard ground
//! and sink in soft ground, so the depth falls where the pull rises.

use ingest::plow::Plow;
use ingest::quantity::Quantity;
use schemars::JsonSchema;
use serde::Serialize;
use stats::Estimate;

/// Softest front wheels on land that are allowed for, N/m: by choice, for no description states it.
const FRONT_STIFFNESS_N_PER_M: f64 = 100_000.0;

/// Slow gain of depth on pull, below the band of bobbing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
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
pub fn tail_lever(plow: &Plow) -> Option<f64> {
    let tail_x_m = plow.tail.wheel()?.x.value.si();
    let lever = plow.bottoms.x.value.si() / tail_x_m;
    (tail_x_m < 0.0 && (0.0..=1.0).contains(&lever)).then_some(lever)
}

/// Under this share of its load at rest a front wheel counts as off the ground: as for the tail wheel, by choice.
pub const OFF_GROUND_SHARE: f64 = 0.05;
/// The highest pulls looked at, as a share of all readings.
const PEAK_SHARE: f64 = 0.05;
/// Off the ground in more than this share of the peaks, it is the peaks that lift it: by choice.
const PEAKS_OFF_SHARE: f64 = 0.25;
/// Over this share of its load at rest at the peaks of the pull the front holds: by choice.
const HOLDS_SHARE: f64 = 0.25;

/// Front load against the pull.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct FrontAtPeaks {
    /// Load of the front wheels at rest, by the description, N.
    pub static_n: f64,
    /// Share of time with less than [`OFF_GROUND_SHARE`] of that, with its 95 % interval.
    pub off_ground_share: Estimate,
    /// Pull at which its highest twentieth begins, N.
    pub peaks_from_n: f64,
    /// Mean front load at those readings, N.
    pub at_peaks_n: f64,
    /// Share of those readings in which the front is off the ground.
    #[serde(rename = "off_ground_at_peaks_share")]
    pub off_ground_at_peaks: f64,
}

impl FrontAtPeaks {
    /// From readings of pull and front load (N) side by side; `None` without any, or without a load at rest.
    pub fn of(
        pull_n: &[&[f64]],
        front_n: &[&[f64]],
        static_n: f64,
        off_ground_share: Estimate,
    ) -> Option<Self> {
        let mut pulls_n: Vec<f64> = pull_n.iter().flat_map(|part| part.iter().copied()).collect();
        let at = ((1.0 - PEAK_SHARE) * pulls_n.len() as f64) as usize;
        if at >= pulls_n.len() {
            return None;
        }
        let peaks_from_n = *pulls_n.select_nth_unstable_by(at, f64::total_cmp).1;
        let pairs = pull_n.iter().zip(front_n).flat_map(|(pull, front)| pull.iter().zip(front.iter()));
        let fronts: Vec<f64> =
            pairs.filter(|(pull, _)| **pull >= peaks_from_n).map(|(_, front)| *front).collect();
        if fronts.is_empty() || static_n.is_nan() || static_n <= 0.0 {
            return None;
        }
        let count = fronts.len() as f64;
        let off = fronts.iter().filter(|front| **front < OFF_GROUND_SHARE * static_n).count() as f64;
        Some(Self {
            static_n,
            off_ground_share,
            peaks_from_n,
            at_peaks_n: fronts.iter().sum::<f64>() / count,
            off_ground_at_peaks: off / count,
        })
    }

    /// Whether the front loses the ground at the peaks of the pull: in this pass for more of the time than `limit`, in
    /// over a quarter of the peaks, and there more often than over the whole pass.
    pub fn loses_ground(&self, limit: f64) -> bool {
        self.off_ground_share.value > limit
            && self.off_ground_at_peaks > PEAKS_OFF_SHARE
            && self.off_ground_at_peaks > self.off_ground_share.value
    }

    /// Whether it clearly holds, at the peaks too.
    pub fn holds(&self, limit: f64) -> bool {
        self.off_ground_share.high <= limit && self.at_peaks_n > HOLDS_SHARE * self.static_n
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn share(value: f64) -> Estimate {
        Estimate { value, low: value * 0.8, high: value * 1.2 }
    }

    #[test]
    fn a_front_that_lifts_with_the_pull_is_told_from_one_that_lifts_without() {
        let pull: Vec<f64> = (0..1000).map(f64::from).collect();
        let lifts: Vec<f64> = pull.iter().map(|pull| 1000.0 - 1.1 * pull).collect();
        let found = FrontAtPeaks::of(&[&pull], &[&lifts], 1000.0, share(0.13)).unwrap();
        assert_eq!((found.peaks_from_n, found.off_ground_at_peaks), (950.0, 1.0));
        assert!((found.at_peaks_n - (1000.0 - 1.1 * 974.5)).abs() < 1e-9);
        assert!(found.loses_ground(0.02) && !found.holds(0.02));
        // The same loads the other way round: off the ground where the plow pulls least.
        let falls: Vec<f64> = lifts.iter().rev().copied().collect();
        let found = FrontAtPeaks::of(&[&pull], &[&falls], 1000.0, share(0.13)).unwrap();
        assert!(!found.loses_ground(0.02));
        let even = [900.0; 1000];
        assert!(FrontAtPeaks::of(&[&pull], &[&even], 1000.0, share(0.0)).unwrap().holds(0.02));
        assert!(FrontAtPeaks::of(&[], &[], 1000.0, share(0.0)).is_none());
        assert!(FrontAtPeaks::of(&[&pull], &[&even], f64::NAN, share(0.0)).is_none());
    }
}
