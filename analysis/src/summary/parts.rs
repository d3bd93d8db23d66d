//! What the figures of a summary are made from, what is asked of it more than once, and what the statics is worked out from.

use super::carried::Carried;
use super::figures::{BobbingFigures, DepthFigures, PullFigures};
use super::measure::{self, Channel};
use ingest::plow::{CarriedLoad, ChannelRole};
use ingest::run_toml::RunDescription;
use signals::{Segment, Signals, WorkingPartError, slices};
use spectra::low_frequency_gain::{LowFrequencyGain, low_frequency_gain};
use spectra::thinned::{self, thinned};
use spectra::welch::segment_len_for;
use statics::calibrations::Calibrations;
use statics::contradiction::TableReadings;
use statics::inputs::RunFigures;
use statics::means::Means;
use stats::Estimate;

/// Without bobbing, gains below this frequency are what the statics is compared with.
pub(crate) const SLOW_HZ: f64 = 0.5;
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

    pub(super) fn run_figures(
        &self,
        (pull, depth): (&PullFigures, &DepthFigures),
        calibrations: &Calibrations<'_>,
        zero_shift_n: f64,
    ) -> RunFigures {
        let means = Means {
            pull_n: pull.mean_n,
            pull_from_links: self.pull_from_links,
            zero_shift_n,
            tail_by_table_n: self.tail_spring_mean_n(),
            depth_mm: depth.mean_mm.value,
            of: &|role| self.mean_of(role),
        };
        RunFigures::of_means((&self.description.plow, &self.description.setting), calibrations, &means)
    }

    /// A mean with what its calibration leaves open in its interval.
    pub(super) fn calibrated(&self, role: ChannelRole, calibrations: &Calibrations<'_>) -> Option<Estimate> {
        calibrations.widened(role, self.mean_of(role)?)
    }
}
