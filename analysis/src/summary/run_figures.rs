//! From the means of a run to what the statics is worked out from.

use super::calibrations::Calibrations;
use super::figures::{DepthFigures, PullFigures};
use super::parts::Parts;
use ingest::plow::ChannelRole;
use statics::inputs::{MeanForce, RunFigures};
use statics::plow_model::standing_loads_n;
use stats::Estimate;

impl Parts<'_> {
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
            let (_, standing_n) = standing_loads_n(plow, setting).ok()?;
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
            depth_m: Some(depth.mean_mm.value / 1000.0),
            pitch_deg: self.mean_of(ChannelRole::Pitch),
            front_height_m: self.calibrated(ChannelRole::FrontHeight, calibrations).map(|mm| mm.scaled(1e-3)),
            drawbar_deg: self.calibrated(ChannelRole::DrawbarAngle, calibrations),
        }
    }

    /// A mean with what its calibration leaves open in its interval.
    pub(super) fn calibrated(&self, role: ChannelRole, calibrations: &Calibrations<'_>) -> Option<Estimate> {
        calibrations.widened(role, self.mean_of(role)?)
    }
}

/// A pull that is the sum of forces in links, as well known as these are.
fn of_links(mean_n: Estimate, links: [MeanForce; 2]) -> MeanForce {
    let half_width_n = links.iter().map(|link| link.calibration_half_width_n).fold(0.0, f64::hypot);
    MeanForce { mean_n, calibration_half_width_n: half_width_n }
}
