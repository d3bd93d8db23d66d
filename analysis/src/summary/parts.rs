//! What the figures of a summary are made from, what is asked of it more than once, and what the statics is worked out from.

use super::calibrations::Calibrations;
use super::carried::Carried;
use super::figures::{BobbingFigures, DepthFigures, PullFigures};
use super::measure::{self, Channel};
use ingest::plow::{CarriedLoad, ChannelRole};
use ingest::quantity::{Force, Length};
use ingest::run_toml::RunDescription;
use signals::{Segment, Signals, WorkingPartError, slices};
use spectra::low_frequency_gain::{LowFrequencyGain, low_frequency_gain};
use spectra::thinned::{self, thinned};
use spectra::welch::segment_len_for;
use statics::contradiction::TableReadings;
use statics::inputs::{MeanForce, RunFigures};
use statics::plow_model::standing_loads;
use stats::Estimate;

/// Without bobbing, gains below this frequency are what the statics is compared with.
const SLOW_HZ: f64 = 0.5;
/// Readings a second that are kept of a fast box for it.
const SLOW_KEPT_HZ: f64 = 400.0 * SLOW_HZ;

/// What the figures of a summary are made from.
pub(super) struct PassReadings<'a> {
    pub(super) description: &'a RunDescription,
    pub(super) signals: &'a Signals,
    pub(super) segments: &'a [Segment],
    /// Boxes apart, each with its rows within the segments.
    pub(super) apart: &'a [(&'a Signals, Vec<Segment>)],
    pub(super) carried: Option<&'a Carried>,
    /// The readings of the tail's spring against its load table.
    pub(super) table: Option<TableReadings>,
    pub(super) pull_from_links: bool,
}

impl PassReadings<'_> {
    /// A channel as its own box sent it.
    pub(super) fn channel(&self, role: ChannelRole) -> Option<Channel<'_>> {
        let apart = self.apart.iter().map(|(signals, segments)| (*signals, segments.as_slice()));
        apart.chain(std::iter::once((self.signals, self.segments))).find_map(|(signals, segments)| {
            Some(Channel { signals, segments, values: signals.channels.get(&role)? })
        })
    }

    /// The tail load, if the pass is judged by it.
    pub(super) fn tail(&self) -> Option<&[f64]> {
        self.carried.filter(|carried| carried.is_tail()).map(|carried| carried.values_n.as_slice())
    }

    /// Mean tail load by the deflection of its spring, N.
    pub(super) fn tail_spring_mean_n(&self) -> Option<Estimate> {
        let carried = self.carried.filter(|carried| carried.load == CarriedLoad::TailSpring)?;
        let channel = Channel { signals: self.signals, segments: self.segments, values: &carried.values_n };
        measure::pull(channel).ok().map(|figures| figures.mean_n)
    }

    pub(super) fn needed(&self, role: ChannelRole) -> Result<Channel<'_>, WorkingPartError> {
        self.channel(role).ok_or(WorkingPartError::NoChannel(role.column()))
    }

    pub(super) fn mean_of(&self, role: ChannelRole) -> Option<Estimate> {
        self.channel(role).and_then(|channel| measure::pull(channel).ok()).map(|figures| figures.mean_n)
    }

    /// The gain of `values`, which the box of the pull sends, on the pull, below the bobbing band.
    pub(super) fn slow_gain(
        &self,
        values: &[f64],
        bobbing: Option<&BobbingFigures>,
    ) -> Option<LowFrequencyGain> {
        let pull = self.signals.channels.get(&ChannelRole::Pull)?;
        let below_hz = bobbing.map_or(SLOW_HZ, |bobbing| (bobbing.frequency_hz.value / 3.0).min(SLOW_HZ));
        let rate_hz = self.signals.rate_hz;
        let (pull, kept_hz) = thinned(&slices(pull, self.segments), rate_hz, SLOW_KEPT_HZ);
        let (values, _) = thinned(&slices(values, self.segments), rate_hz, SLOW_KEPT_HZ);
        let lengths: Vec<usize> = pull.iter().map(Vec::len).collect();
        let length = segment_len_for(&lengths, kept_hz);
        low_frequency_gain(&thinned::slices(&pull), &thinned::slices(&values), kept_hz, length, below_hz).ok()
    }

    /// A load cell on the tail is preferred to the deflection of its spring.
    pub(super) fn run_figures(
        &self,
        (pull, depth): (&PullFigures, &DepthFigures),
        calibrations: &Calibrations<'_>,
        zero_shift_n: f64,
    ) -> RunFigures {
        let (plow, setting) = (&self.description.plow, &self.description.setting);
        let measured = |role, force: &dyn Fn(Estimate<Force>) -> MeanForce| {
            Some(calibrations.calibrated(role, force(Estimate::from_si(self.mean_of(role)?))))
        };
        let link = |role| measured(role, &|mean| MeanForce::link(mean, Force::from_n(pull.mean_n.value)));
        let by_spring = || {
            let standing_n = standing_loads(plow, setting).ok()?.1.n();
            Some(calibrations.tail(self.tail_spring_mean_n()?, standing_n))
        };
        let (lower_links, top_link) = (link(ChannelRole::LowerLinks), link(ChannelRole::TopLink));
        RunFigures {
            pull: match (self.pull_from_links, lower_links, top_link) {
                (true, Some(lower), Some(top)) => of_links(pull.mean_n, [lower, top]),
                _ => calibrations.pull(pull.mean_n, zero_shift_n),
            },
            pull_from_links: self.pull_from_links,
            tail_load: measured(ChannelRole::TailLoad, &MeanForce::tail_cell).or_else(by_spring),
            front_load: measured(ChannelRole::FrontLoad, &MeanForce::front),
            lower_links,
            top_link,
            depth: Some(Length::from_m(depth.mean_mm.value / 1000.0)),
            pitch: self.mean_of(ChannelRole::Pitch).map(Estimate::from_si),
            front_height: self
                .calibrated(ChannelRole::FrontHeight, calibrations)
                .map(|mm| Estimate::from_si(mm.scaled(1e-3))),
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
