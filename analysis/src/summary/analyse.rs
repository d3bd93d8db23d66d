//! The way of one run from readings to verdict, step by step.

use super::bobbing::{ReportedPeaks, SearchedLoad, reported_peaks};
use super::calibrations::{calibration_checks, calibrations_of};
use super::carried::{Carried, CarriedFigures, pull_from_links};
use super::causes::Found;
use super::figures::{PullToTail, StaticsFigures, Summary, TravelFigures};
use super::measure;
use super::notices::{left_out, outside_the_table, recorder_notices, table_readings, torn};
use super::own::OwnReadings;
use super::parts::PassReadings;
use super::per_metre::per_metre;
use super::run_facts::RunFacts;
use super::seeds::Seeds;
use super::spectrum::{LoadSpectrum, SpectrumFigures};
use super::stray::Strays;
use super::travel::travel_figures;
use ingest::plow::{ChannelRole, needed_at_once};
use ingest::quantity::{Force, SaidIn, UnitSystem};
use ingest::run_toml::RunDescription;
use signals::run::{ClockApart, Notice, Run};
use signals::{
    Joined, Quality, QualityInput, Segment, SignalError, Signals, Speed, Travel, WorkingPart,
    WorkingPartError, WorkingParts, assess, find_working_parts, join, slices, take_out_spikes, within,
};
use spectra::low_frequency_gain::LowFrequencyGain;
use statics::advice::advise;
use statics::believable::unbelievable;
use statics::identify::{DRAWS, Identified, IdentifyError};
use statics::inputs::{MeanForce, RunFigures};
use statics::judge::{Judged, judge};
use statics::natural_frequencies::expected_frequencies;
use statics::value_of_information::next_measurements;
use statics::verdict::{Class, Indicators};
use stats::StatsError;

/// Under this coherence the gain says nothing.
pub(crate) const COHERENCE_MIN: f64 = 0.2;

/// Why there is no summary. Each is one sentence.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum SummaryError {
    /// The readings have no time base.
    #[error(transparent)]
    Signals(#[from] SignalError),
    /// The plow was not in the ground for long enough.
    #[error(transparent)]
    WorkingPart(#[from] WorkingPartError),
    /// A needed channel is on a box that is not to be joined with the others.
    #[error(transparent)]
    Apart(#[from] ClockApart),
    /// A figure cannot be given.
    #[error(transparent)]
    Statistics(#[from] StatsError),
    /// A channel that never moves cannot be believed, and everything follows from these.
    #[error(
        "{} is the same in every reading of the working part: check its sensor and cable", channel.in_words()
    )]
    Constant { channel: ChannelRole },
}

impl SaidIn for SummaryError {
    fn said_in(&self, units: UnitSystem) -> String {
        match self {
            Self::WorkingPart(error) => error.said_in(units),
            _ => self.to_string(),
        }
    }
}

/// A summary with the series that its charts are drawn from.
#[derive(Debug)]
pub struct Analysed {
    /// What it says.
    pub summary: Summary,
    /// The plow and setting it was made with.
    pub description: RunDescription,
    /// What all boxes sent, on the time base of the load that the pass is judged by.
    pub signals: Signals,
    /// The working part's segments.
    pub segments: Vec<Segment>,
    /// The load that the pass is judged by; `None` if none was measured.
    pub carried: Option<Carried>,
    /// Spectrum of that load.
    pub load_spectrum: Option<LoadSpectrum>,
    /// What the statics was worked out from.
    pub figures: RunFigures,
    /// The statics, with its draws.
    pub identified: Result<Identified, IdentifyError>,
    /// The user's own columns.
    pub own: Vec<OwnReadings>,
}

/// Analyses a run: data in SI.
///
/// # Errors
/// [`SummaryError`] where the answer would be wrong; what is only worse than it should be is counted in
/// the quality.
pub fn analyse(mut run: Run) -> Result<Analysed, SummaryError> {
    run.leave_out_apart()?;
    let saturated_s = run.saturated_s();
    run.notices.extend(recorder_notices(&run).collect::<Vec<_>>());
    let holes_s: Vec<(f64, f64)> = run.missing_rows().flat_map(|table| &table.holes_s).copied().collect();
    let Run { description, mut tables, gnss, notices, .. } = run;
    let own = OwnReadings::take(description.plow.own_columns(), &mut tables);
    let spikes = take_out_spikes(&mut tables);
    let strays = Strays::of(&tables);
    let Joined { mut signals, apart } = join(tables)?;
    let of_links = pull_from_links(&description.plow, &description.setting, &signals);
    let pull_from_links = of_links.is_some();
    signals.channels.extend(of_links.map(|pull_n| (ChannelRole::Pull, pull_n)));
    let WorkingParts { longest: working_part, others } = find_working_parts(&signals, &holes_s)?;
    let segments = signals.part(working_part.from_s, working_part.to_s);
    refuse_constant(&signals, &segments)?;
    let span_s = (working_part.from_s, working_part.to_s);
    let apart: Vec<(&Signals, Vec<Segment>)> =
        apart.iter().map(|own| (own, within(own, &signals, &segments))).collect();
    let input = QualityInput {
        signals: &signals,
        segments: &segments,
        apart: &apart,
        span_s,
        saturated_s: &saturated_s,
        spikes: &spikes,
    };
    let mut quality = assess(input);
    quality.notices.splice(0..0, torn(&holes_s, working_part).into_iter().chain(notices));
    quality.notices.extend(left_out(&others));
    quality.notices.extend(pull_from_links.then_some(Notice::PullFromLinks));

    let carried = Carried::of(&description, &signals);
    let table = table_readings(&description.plow, &signals, &segments);
    quality.notices.extend(table.as_ref().and_then(outside_the_table));
    let load_spectrum =
        carried.as_ref().and_then(|carried| LoadSpectrum::of(&carried.values_n, &signals, &segments));
    let boxes = apart.iter().map(|(own, _)| *own).chain(std::iter::once(&signals));
    let speed = Speed::of(boxes, gnss.as_ref());
    let travel = speed.as_ref().map(Speed::travel);
    let of_travel = speed.as_ref().zip(travel.as_ref()).map(|(speed, travel)| {
        let (figures, notices) = travel_figures(speed, travel, working_part, gnss.as_ref());
        quality.notices.extend(notices);
        (figures, travel)
    });
    let parts = PassReadings {
        description: &description,
        signals: &signals,
        segments: &segments,
        apart: &apart,
        carried: carried.as_ref(),
        table,
        pull_from_links,
    };
    let (mut summary, identified, figures) =
        parts.summarise((working_part, quality), &strays, load_spectrum.as_ref(), of_travel)?;
    summary.own_columns = own.iter().map(|own| own.figures(working_part)).collect();
    Ok(Analysed { summary, description, signals, segments, carried, load_spectrum, figures, identified, own })
}

fn refuse_constant(signals: &Signals, segments: &[Segment]) -> Result<(), SummaryError> {
    for role in needed_at_once(|role| signals.channels.contains_key(&role)) {
        let Some(values) = signals.channels.get(&role) else { continue };
        let mut rows = segments.iter().filter_map(|segment| values.get(segment.rows.clone())).flatten();
        let first = rows.next();
        if first.is_some_and(|first| rows.all(|value| value == first)) {
            return Err(SummaryError::Constant { channel: role });
        }
    }
    Ok(())
}

impl PassReadings<'_> {
    fn summarise(
        &self,
        (working_part, quality): (WorkingPart, Quality),
        strays: &Strays,
        spectrum: Option<&LoadSpectrum>,
        travel: Option<(TravelFigures, &Travel)>,
    ) -> Result<(Summary, Result<Identified, IdentifyError>, RunFigures), SummaryError> {
        let (plow, setting) = (&self.description.plow, &self.description.setting);
        let (of_pull, of_depth) = (self.needed(ChannelRole::Pull)?, self.needed(ChannelRole::Depth)?);
        // Hours of readings take a while: the channels share the cores.
        let ((pull, depth), carried) = rayon::join(
            || rayon::join(|| measure::pull(of_pull), || measure::depth(of_depth)),
            || self.carried.map(|carried| carried.figures(self.signals, self.segments)).transpose(),
        );
        let (pull, depth, carried) = (pull?, depth?, carried?);
        let judged_by = self.carried.map(|carried| carried.load.name(&plow.part_names()));
        let speed_mps = travel.as_ref().and_then(|(figures, _)| mean_speed_mps(figures, working_part));
        let mut peaks = match self.carried {
            Some(carried) => {
                let found = spectrum.map(|found| SearchedLoad {
                    spectrum: &found.spectrum,
                    search: &found.search,
                    stretches: slices(&carried.values_n, self.segments),
                    rate_hz: self.signals.rate_hz,
                });
                reported_peaks(found.as_ref(), plow, speed_mps)
            }
            None => ReportedPeaks::without_load(),
        };
        let lifted_share = carried.as_ref().and_then(CarriedFigures::lifted_share);
        let expected_frequencies = match &carried {
            Some(CarriedFigures::Tail(load)) => expected_frequencies(plow, Force::from_n(load.mean_n.value)),
            _ => None,
        };
        peaks.caution(0.5 * self.signals.rate_hz, expected_frequencies.as_ref(), lifted_share);
        let tail_gain = self.tail().and_then(|tail| self.slow_gain(tail, peaks.bobbing.as_ref()));
        let pull_to_tail = tail_gain.and_then(pull_to_tail);
        let per_metre = travel.as_ref().zip(self.tail()).and_then(|((_, travel), tail_load_n)| {
            per_metre((self.signals, self.segments), (tail_load_n, plow), travel, &peaks)
        });

        let calibrations = calibrations_of(self.description);
        let working = |role| self.channel(role).map(|channel| slices(channel.values, channel.segments));
        let run = RunFacts::of(self.description);
        let calibration =
            calibration_checks(&calibrations, run.day(), (self.signals, &self.description.zero), working);
        let zero_shift_n = calibration.zero_shift(ChannelRole::Pull);
        let figures = self.run_figures((&pull, &depth), &calibrations, zero_shift_n);
        // What a sensor cannot give is told only where nothing says why.
        let stray = strays.within(working_part).or_else(|| unbelievable((plow, setting), &figures));
        let signs = Indicators {
            lifted_share,
            front_lifted: matches!(carried, Some(CarriedFigures::Front(_))),
            measured_gain: pull_to_tail.as_ref().map(|found| found.gain_n_per_n),
            stray: stray.or_else(|| self.outside_sensor()).or_else(|| self.stood_still()),
        };
        let judged = judge((plow, setting), &figures, (&signs, self.table), DRAWS);
        let Judged { identified, verdict, .. } = judged.resting((plow, setting), &figures);
        if verdict.class == Class::TooSteep {
            peaks.caution_too_steep();
        }
        let next_measurements = identified
            .as_ref()
            .map_or_else(|_| Vec::new(), |found| next_measurements(plow, setting, &figures, &found.draws));
        let advice = advise(plow, setting, &identified, &verdict);
        let draft = self.draft(&figures.pull, &depth, &calibrations, travel.as_ref());
        let found = Found {
            tail_gain: tail_gain.map(|found| found.gain),
            spectrum,
            peaks: &peaks,
            speed_mps,
            expected: expected_frequencies,
            identified: &identified,
            verdict: &verdict,
            quality: &quality,
            calibration: &calibration,
            calibrations: &calibrations,
        };
        let causes = self.causes((&pull, &depth), lifted_share, &found);
        // The statics has taken the calibrations into account by themselves; what is reported has them in its intervals.
        let open_n = |force: Option<MeanForce>| force.map_or(0.0, |force| force.calibration_half_width.n());
        let (mut tail_load, mut front_load, mut top_link) = (None, None, None);
        match carried {
            Some(CarriedFigures::Tail(load)) => {
                tail_load = Some(load.calibrated_within(open_n(figures.tail_load)));
            }
            Some(CarriedFigures::Front(load)) => {
                front_load = Some(load.calibrated_within(open_n(figures.front_load)));
            }
            Some(CarriedFigures::TopLink(force)) => {
                top_link = Some(force.calibrated_within(open_n(figures.top_link)));
            }
            None => {}
        }
        let pull = pull.calibrated_within(figures.pull.calibration_half_width.n());
        let depth_open_mm = calibrations.open_at(ChannelRole::Depth, depth.mean_mm.value);
        let depth = depth.calibrated_within(depth_open_mm);
        let rate_hz = self.signals.rate_hz;
        let load_spectrum =
            spectrum.and_then(|found| SpectrumFigures::of(found, peaks.fit.as_ref(), rate_hz));
        let summary = Summary {
            run,
            working_part,
            quality,
            calibration,
            pull,
            depth,
            tail_load,
            front_load,
            top_link,
            judged_by,
            bobbing: peaks.bobbing,
            bobbing_notes: peaks.notes,
            load_spectrum,
            expected_frequencies,
            wheel_turns: peaks.wheel_turns,
            travel: travel.map(|(figures, _)| figures),
            per_metre,
            pull_to_tail,
            draft,
            statics: identified.as_ref().ok().map(statics_figures),
            verdict,
            causes,
            advice,
            next_measurements,
            own_columns: Vec::new(),
            seeds: Seeds::default(),
        };
        Ok((summary, identified, figures))
    }
}

/// The gain of the tail load on the pull; `None` where pull and tail load are not coherent there.
fn pull_to_tail(found: LowFrequencyGain) -> Option<PullToTail> {
    let shown = found.coherence >= COHERENCE_MIN;
    shown.then_some(PullToTail { gain_n_per_n: found.gain, coherence: measure::coherence(&found) })
}

/// The way over the time for which it is known; `None` where that is nowhere.
fn mean_speed_mps(travel: &TravelFigures, part: WorkingPart) -> Option<f64> {
    let known_s = part.to_s - part.from_s - travel.missing_s;
    (known_s > 0.0).then(|| travel.distance_m / known_s).filter(|speed_mps| *speed_mps > 0.0)
}

fn statics_figures(found: &Identified) -> StaticsFigures {
    StaticsFigures {
        soil_slope: found.soil_slope,
        soil_lifts_chance: found.lifts_probability,
        pull_line_offset_mm: found.pull_line_offset.si().scaled(1000.0),
        balance_index: found.balance_index,
        wheel_load_at_m: found.wheel_load_at.si(),
        tail_share: found.tail_share,
        front_load_n: found.front_load.si(),
        expected_gain_n_per_n: found.expected_gain_n_per_n,
        rejected_share: found.rejected_share,
        set_aside_share: found.set_aside_share,
        dominant_inputs: found.ranking.iter().take(3).copied().collect(),
    }
}
