//! From the figures of a run to what the causes are judged by.

use super::bobbing::ReportedPeaks;
use super::calibrations::{CalibrationChecks, CalibrationWarning};
use super::carried::Carried;
use super::figures::{DepthFigures, PullFigures, Wheel};
use super::measure::{self, Channel};
use super::parts::PassReadings;
use super::spectrum::LoadSpectrum;
use super::zero_check::ZeroVerdict;
use crate::causes::{
    Causes, ChannelIndicators, Deflection, DepthOnPull, FrontAtPeaks, OFF_GROUND_SHARE, Peaks, RunEvidence,
    causes, tail_lever,
};
use ingest::plow::ChannelRole;
use ingest::run_toml::RunDescription;
use signals::{ChannelQuality, Quality, slices};
use spectra::bobbing::wheel_turn_hz;
use statics::calibrations::Calibrations;
use statics::identify::{Identified, IdentifyError};
use statics::natural_frequencies::ExpectedFrequencies;
use statics::plow_model::{described_drawbar_slope, standing_loads};
use statics::verdict::Verdict;
use stats::Estimate;

/// A channel at the end of its converter for more than this share of the readings is reported.
const SATURATED_SHARE_REPORTED: f64 = 0.001;

/// What was found in the spectrum of the tail load, and what was judged before.
pub(super) struct Found<'a> {
    pub spectrum: Option<&'a LoadSpectrum>,
    pub peaks: &'a ReportedPeaks,
    /// Gain of the tail load on the pull, slowly, coherent or not.
    pub tail_gain: Option<Estimate>,
    pub speed_mps: Option<f64>,
    pub expected: Option<ExpectedFrequencies>,
    pub identified: &'a Result<Identified, IdentifyError>,
    pub verdict: &'a Verdict,
    pub quality: &'a Quality,
    pub calibration: &'a CalibrationChecks,
    pub calibrations: &'a Calibrations<'a>,
}

impl PassReadings<'_> {
    pub(super) fn causes(
        &self,
        (pull, depth): (&PullFigures, &DepthFigures),
        lifted_share: Option<f64>,
        found: &Found<'_>,
    ) -> Causes {
        let plow = &self.description.plow;
        let tail = self.signals.channels.get(&ChannelRole::Tail);
        // Hours of readings take a while: these share the cores.
        let ((deflection, side_n), (depth_on_pull, front_at_peaks)) = rayon::join(
            || {
                let deflection =
                    tail.and_then(|tail| Deflection::of(slices(tail, self.segments), self.signals.rate_hz));
                (deflection, self.calibrated(ChannelRole::Side, found.calibrations))
            },
            || {
                let on_pull = self.depth_on_pull(pull.mean_n.value, found);
                (on_pull, self.front_at_peaks())
            },
        );
        let of_tail = found.quality.channels.get(ChannelRole::Tail.column());
        let channels = channel_indicators(found.quality, found.calibration);
        causes(&RunEvidence {
            plow,
            share: plow.bottoms.share,
            identified: found.identified,
            verdict: found.verdict,
            judged_by: self.carried.map(|carried| carried.load),
            lifted_share,
            lifted_load_n: self.carried.and_then(Carried::lifted_under_n),
            deflection: deflection.as_ref(),
            deflection_saturated_share: of_tail.map(|quality| quality.saturated_share),
            peaks: found.peaks(plow.tail.wheel().map(|wheel| wheel.diameter.m())),
            depth_mm: depth.mean_mm,
            pull_n: pull.mean_n,
            side_n,
            depth_on_pull,
            front_at_peaks,
            channels: &channels,
        })
    }

    /// Depth on pull, slowly; `None` unless one box sends pull, depth and tail.
    fn depth_on_pull(&self, pull_n: f64, found: &Found<'_>) -> Option<DepthOnPull> {
        let RunDescription { plow, setting, .. } = self.description;
        let lever = tail_lever(plow)?;
        let channel = |role| self.signals.channels.get(&role);
        let (depth_mm, tail_mm) = (channel(ChannelRole::Depth)?, channel(ChannelRole::Tail)?);
        let beyond_mm: Vec<f64> = depth_mm.iter().zip(tail_mm).map(|(d, tail)| d - lever * tail).collect();
        let on_pull_m =
            |values_mm| Some(self.slow_gain(values_mm, found.peaks.bobbing.as_ref())?.gain.scaled(1e-3));
        let gains = (on_pull_m(depth_mm)?, on_pull_m(&beyond_mm)?);
        let slope = described_drawbar_slope(plow, setting).ok()?;
        DepthOnPull::of(plow, gains, found.tail_gain?, slope, pull_n)
    }

    /// `None` unless one box sends pull and front load.
    fn front_at_peaks(&self) -> Option<FrontAtPeaks> {
        let RunDescription { plow, setting, .. } = self.description;
        let static_n = standing_loads(plow, setting).ok()?.0.n();
        let (signals, segments) = (self.signals, self.segments);
        let (pull, front) =
            (signals.channels.get(&ChannelRole::Pull)?, signals.channels.get(&ChannelRole::FrontLoad)?);
        let of_front = Channel { signals, segments, values: front };
        let off_ground = measure::below_share(of_front, OFF_GROUND_SHARE * static_n).ok()?;
        FrontAtPeaks::of(&slices(pull, segments), &slices(front, segments), static_n, off_ground)
    }
}

fn channel_indicators(quality: &Quality, calibration: &CalibrationChecks) -> ChannelIndicators {
    let zero = |verdict| {
        let checks = calibration.zero.iter().filter(move |check| check.verdict == verdict);
        checks.map(|check| check.role).collect()
    };
    let is_bad =
        |quality: &ChannelQuality| quality.stuck || quality.saturated_share > SATURATED_SHARE_REPORTED;
    let bad = quality.channels.iter().filter(|(_, quality)| is_bad(quality));
    let beyond = calibration.outside.iter().filter_map(|(column, out)| {
        Some((ChannelRole::of_column(column)?, out.share_above + out.share_below))
    });
    let mut found = ChannelIndicators {
        zero_moved: zero(ZeroVerdict::Moved),
        zero_as_calibrated: zero(ZeroVerdict::AsCalibrated),
        beyond_range: beyond.collect(),
        bad: bad.filter_map(|(column, _)| ChannelRole::of_column(column)).collect(),
        ..ChannelIndicators::default()
    };
    for warning in &calibration.warnings {
        match warning {
            CalibrationWarning::OverAYearOld { channel, .. } => found.calibration_old.push(channel.clone()),
            CalibrationWarning::MadeAfterRun { channel, .. } => found.calibration_after.push(channel.clone()),
            CalibrationWarning::BeyondRange { .. } => {}
        }
    }
    found
}

impl Found<'_> {
    fn peaks(&self, tail_diameter_m: Option<f64>) -> Peaks {
        let turn = |wheel| {
            let mut turns = self.peaks.wheel_turns.iter();
            turns.find(|turn| turn.wheel == wheel).map(|turn| turn.frequency_hz.value)
        };
        let bins = self.spectrum.map(|found| &found.search.frequency_hz);
        Peaks {
            bobbing_hz: self.peaks.bobbing.as_ref().map(|bobbing| bobbing.frequency_hz),
            expected: self.expected,
            tail_turn_hz: turn(Wheel::Tail),
            front_turn_hz: turn(Wheel::Front),
            tail_turn_expected_hz: self
                .speed_mps
                .zip(tail_diameter_m)
                .map(|(speed_mps, diameter_m)| wheel_turn_hz(speed_mps, diameter_m)),
            band_hz: bins.and_then(|bins| Some((*bins.first()?, *bins.last()?))),
        }
    }
}
