//! From the figures of a run to its draft.

use super::figures::{DepthFigures, TravelFigures};
use super::parts::PassReadings;
use crate::draft::{DraftInputs, RunDraft, Window, run_draft};
use ingest::plow::ChannelRole;
use ingest::quantity::{Force, Length};
use signals::Travel;
use statics::calibrations::{Calibrations, widened};
use statics::draft::specific_draft_n_per_cm2;
use statics::inputs::MeanForce;
use statics::plow_model::described_drawbar_slope;

/// Length of a piece for the effect of speed: longer than bobbing, shorter than what soil changes over.
const WINDOW_S: f64 = 5.0;
/// The speed must be known for this share of a piece.
const SPEED_KNOWN_SHARE: f64 = 0.8;
/// Half of the 95 % interval of what a depth gauge says of the depth of the furrow, in mm, besides its calibration:
/// by choice, for the land it runs on is not a plane.
const GAUGE_HALF_WIDTH_MM: f64 = 5.0;

impl PassReadings<'_> {
    pub(super) fn draft(
        &self,
        pull: &MeanForce,
        depth: &DepthFigures,
        calibrations: &Calibrations<'_>,
        travel: Option<&(TravelFigures, &Travel)>,
    ) -> Option<RunDraft> {
        let plow = &self.description.plow;
        let drawbar_slope = described_drawbar_slope(plow, &self.description.setting).ok()?;
        let depth_mm = depth.mean_mm;
        let gauge_mm = calibrations.open_at(ChannelRole::Depth, depth_mm.value);
        let windows = travel.map(|(_, travel)| self.windows(travel, drawbar_slope)).unwrap_or_default();
        let inputs = DraftInputs {
            pull_n: widened(pull.mean.si(), pull.calibration_half_width.n())?,
            drawbar_slope,
            depth_mm: widened(depth_mm, gauge_mm.hypot(GAUGE_HALF_WIDTH_MM))?,
            total_cut_m: plow.total_cut_m(),
            speed_mps: travel.and_then(|(figures, _)| figures.mean_mps),
            soil_class: self.description.run.soil_class,
            windows: &windows,
        };
        run_draft(&inputs)
    }

    /// Pieces of the working part in which pull, depth and speed are known.
    fn windows(&self, travel: &Travel, drawbar_slope: f64) -> Vec<Window> {
        let channels = &self.signals.channels;
        let (Some(pull), Some(depth)) = (channels.get(&ChannelRole::Pull), channels.get(&ChannelRole::Depth))
        else {
            return Vec::new();
        };
        let rows = ((WINDOW_S * self.signals.rate_hz) as usize).max(1);
        let cut = Length::from_m(self.description.plow.total_cut_m());
        let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
        let mut windows = Vec::new();
        for segment in self.segments {
            for first in segment.rows.clone().step_by(rows) {
                let last = first + rows;
                let within = (last <= segment.rows.end).then_some(first..last);
                let piece = |values: &[f64]| within.clone().and_then(|rows| values.get(rows).map(mean));
                let (Some(pull_n), Some(depth_mm)) = (piece(pull), piece(depth)) else { continue };
                let from_s = segment.start_s + (first - segment.rows.start) as f64 / self.signals.rate_hz;
                let (distance_m, known_s) = travel.between(from_s, from_s + WINDOW_S);
                let draft_n = pull_n / drawbar_slope.hypot(1.0);
                let specific =
                    specific_draft_n_per_cm2(Force::from_n(draft_n), cut, Length::from_m(depth_mm / 1000.0));
                if let Some(specific_draft_n_per_cm2) = specific
                    && known_s >= SPEED_KNOWN_SHARE * WINDOW_S
                {
                    windows.push(Window { speed_mps: distance_m / known_s, specific_draft_n_per_cm2 });
                }
            }
        }
        windows
    }
}
