//! From the means of a run to what the statics is worked out from.

use super::calibrations::Calibrations;
use super::figures::{DepthFigures, PullFigures};
use super::parts::PassReadings;
use ingest::plow::ChannelRole;
use ingest::quantity::{Force, Length};
use statics::inputs::{MeanForce, RunFigures};
use statics::plow_model::standing_loads;
use stats::Estimate;

impl PassReadings<'_> {
    /// A load cell on the tail is preferred to the deflection of its spring.
    pub(super) fn run_figures(
        &self,
        (pull, depth): (&PullFigures, &DepthFigures),
        calibrations: &Calibrations<'_>,
        zero_shift_n: f64,
    ) -> RunFigures {
        let (plow, setting) = (&self.description.plow, &self.description.setting);
        let by_cell = self.mean_of(ChannelRole::TailLoad).map(|mean_n| calibrations.tail_cell(mean_n));
        let by_spring = || {
            let standing_n = standing_loads(plow, setting).ok()?.1.n();
            Some(calibrations.tail(self.tail_spring_mean_n()?, standing_n))
        };
        let link = |role| Some(calibrations.link(role, self.mean_of(role)?, pull.mean_n.value));
        let (lower_links, top_link) = (link(ChannelRole::LowerLinks), link(ChannelRole::TopLink));
        RunFigures {
            pull: match (self.pull_from_links, lower_links, top_link) {
                (true, Some(lower), Some(top)) => of_links(pull.mean_n, [lower, top]),
                _ => calibrations.pull(pull.mean_n, zero_shift_n),
            },
            pull_from_links: self.pull_from_links,
            tail_load: by_cell.or_else(by_spring),
            front_load: self.mean_of(ChannelRole::FrontLoad).map(|mean_n| calibrations.front(mean_n)),
            lower_links,
            top_link,
            depth: Some(Length::from_m(depth.mean_mm.value / 1000.0)),
            pitch: self.mean_of(ChannelRole::Pitch).map(Estimate::from_si),
            front_height: self
                .calibrated(ChannelRole::FrontHeight, calibrations)
                .map(|mm| mm.scaled(1e-3))
                .map(Estimate::from_si),
            drawbar_angle: self.calibrated(ChannelRole::DrawbarAngle, calibrations).map(Estimate::from_si),
        }
    }

    /// A mean with what its calibration leaves open in its interval.
    pub(super) fn calibrated(&self, role: ChannelRole, calibrations: &Calibrations<'_>) -> Option<Estimate> {
        calibrations.widened(role, self.mean_of(role)?)
    }
}

/// A pull that is the sum of forces in links, as well known as these are.
fn of_links(mean_n: Estimate, links: [MeanForce; 2]) -> MeanForce {
    let half_width_n = links.iter().map(|link| link.calibration_half_width.n()).fold(0.0, f64::hypot);
    MeanForce { mean: Estimate::from_si(mean_n), calibration_half_width: Force::from_n(half_width_n) }
}
