//! From the means of a stretch of readings to what the statics is worked out from: one way, for a whole pass and for
//! the last seconds of one that goes on.

use super::calibrations::Calibrations;
use super::inputs::{MeanForce, RunFigures};
use super::plow_model::standing_loads;
use ingest::plow::{ChannelRole, Plow, Setting};
use ingest::quantity::{Force, Length};
use stats::Estimate;

/// Means over a stretch in the ground, each with its 95 % interval for the process, in the units of the columns.
pub struct Means<'a> {
    /// Of the pull.
    pub pull_n: Estimate,
    /// Whether that is the sum of the links' forces, and no sensor of its own.
    pub pull_from_links: bool,
    /// By how much the pull's zero has moved; 0 where it was not shown to.
    pub zero_shift_n: f64,
    /// Of the tail load by its spring's load table; `None` where the stretch is not judged by that.
    pub tail_by_table_n: Option<Estimate>,
    /// Of the depth.
    pub depth_mm: f64,
    /// Of any other channel; `None` where there is none.
    pub of: &'a dyn Fn(ChannelRole) -> Option<Estimate>,
}

impl RunFigures {
    /// What these means say. A load cell on the tail is preferred to the deflection of its spring.
    pub fn of_means(
        (plow, setting): (&Plow, &Setting),
        calibrations: &Calibrations<'_>,
        means: &Means<'_>,
    ) -> Self {
        let measured = |role, force: &dyn Fn(Estimate<Force>) -> MeanForce| {
            Some(calibrations.calibrated(role, force(Estimate::from_si((means.of)(role)?))))
        };
        let widened = |role| calibrations.widened(role, (means.of)(role)?);
        let link = |role| measured(role, &|mean| MeanForce::link(mean, Force::from_n(means.pull_n.value)));
        let by_spring = || {
            let standing_n = standing_loads(plow, setting).ok()?.1.n();
            Some(calibrations.tail(means.tail_by_table_n?, standing_n))
        };
        let (lower_links, top_link) = (link(ChannelRole::LowerLinks), link(ChannelRole::TopLink));
        Self {
            pull: match (means.pull_from_links, lower_links, top_link) {
                (true, Some(lower), Some(top)) => of_links(means.pull_n, [lower, top]),
                _ => calibrations.pull(means.pull_n, means.zero_shift_n),
            },
            pull_from_links: means.pull_from_links,
            tail_load: measured(ChannelRole::TailLoad, &MeanForce::tail_cell).or_else(by_spring),
            front_load: measured(ChannelRole::FrontLoad, &MeanForce::front),
            lower_links,
            top_link,
            depth: Some(Length::from_m(means.depth_mm / 1000.0)),
            pitch: (means.of)(ChannelRole::Pitch).map(Estimate::from_si),
            front_height: widened(ChannelRole::FrontHeight).map(|mm| Estimate::from_si(mm.scaled(1e-3))),
            drawbar_angle: widened(ChannelRole::DrawbarAngle).map(Estimate::from_si),
        }
    }
}

/// A pull that is the sum of forces in links, as well known as these are.
fn of_links(mean_n: Estimate, links: [MeanForce; 2]) -> MeanForce {
    let half_width_n = links.iter().map(|link| link.calibration_half_width.n()).fold(0.0, f64::hypot);
    MeanForce { mean: Estimate::from_si(mean_n), calibration_half_width: Force::from_n(half_width_n) }
}
