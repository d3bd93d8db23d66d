//! What a summary says: the value behind `summary --json`, and behind every number on the page.
//!
//! Intervals are of the pass that was driven. They allow for what one pass can show of its own variation; soil
//! that changes over tens of metres it cannot show. On the virtual plow's field (25 m) the 95 % intervals of
//! mean pull, mean tail load and lifted time from one minute held the mean over 60 strips in three of five
//! passes only (depth: three to four). What another strip would give is for several passes and `compare`.

use super::calibrations::CalibrationChecks;
use super::own::OwnFigures;
use super::run_facts::RunFacts;
use super::seeds::Seeds;
use super::spectrum::SpectrumFigures;
use schemars::JsonSchema;
use serde::Serialize;
use signals::run::SpeedFrom;
use signals::{Quality, WorkingPart};
use stats::Estimate;

/// Figures of the pull over the working part.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PullFigures {
    /// Mean, N.
    pub mean_n: Estimate,
    /// Standard deviation, N.
    pub sd_n: Estimate,
    /// 5th percentile, N.
    pub p5_n: Estimate,
    /// 95th percentile, N.
    pub p95_n: Estimate,
}

impl PullFigures {
    /// The same with what the calibration leaves open of every reading alike, half of a 95 % interval in N. It
    /// shifts mean and percentiles; a spread hardly feels it.
    pub(super) fn calibrated_within(self, half_width_n: f64) -> Self {
        let wider = |figure: Estimate| figure.widened_by(half_width_n);
        // Each field by its name, so that a new one has to be thought of.
        let Self { mean_n, sd_n, p5_n, p95_n } = self;
        Self { mean_n: wider(mean_n), sd_n, p5_n: wider(p5_n), p95_n: wider(p95_n) }
    }
}

/// Figures of the depth over the working part.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct DepthFigures {
    /// Mean, mm.
    pub mean_mm: Estimate,
    /// Standard deviation, mm.
    pub sd_mm: Estimate,
    /// Variance, mm².
    pub variance_mm2: Estimate,
    /// 5th percentile, mm.
    pub p5_mm: Estimate,
    /// 95th percentile, mm.
    pub p95_mm: Estimate,
    /// Slope of the straight line through it, mm/min.
    pub drift_mm_per_min: Estimate,
}

impl DepthFigures {
    /// As [`PullFigures::calibrated_within`], in mm.
    pub(super) fn calibrated_within(self, half_width_mm: f64) -> Self {
        let wider = |figure: Estimate| figure.widened_by(half_width_mm);
        let Self { mean_mm, sd_mm, variance_mm2, p5_mm, p95_mm, drift_mm_per_min } = self;
        let (mean_mm, p5_mm, p95_mm) = (wider(mean_mm), wider(p5_mm), wider(p95_mm));
        Self { mean_mm, sd_mm, variance_mm2, p5_mm, p95_mm, drift_mm_per_min }
    }
}

/// Figures of the vertical load of a carrier over the working part, the tail's or the front's.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TailLoadFigures {
    /// Load on level ground with no pull, N; null where the plow as described cannot stand.
    pub static_n: Option<f64>,
    /// Mean, N.
    pub mean_n: Estimate,
    /// Standard deviation, N.
    pub sd_n: Estimate,
    /// SD / mean; not there where the mean is not shown to differ from 0.
    pub cv: Option<Estimate>,
    /// Share of time under 5 % of the static load; null without that load.
    pub lifted_share: Option<Estimate>,
    /// Longest stretch of that, s; null without that load.
    pub longest_lift_s: Option<Estimate>,
}

impl TailLoadFigures {
    /// As [`PullFigures::calibrated_within`].
    pub(super) fn calibrated_within(self, half_width_n: f64) -> Self {
        Self { mean_n: self.mean_n.widened_by(half_width_n), ..self }
    }
}

/// Bobbing, where a peak stands out of the background: the strongest of the modes fitted to the tail load's
/// spectrum.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct BobbingFigures {
    /// Undamped natural frequency of the mode, Hz. Where the fit is poor, the top of the peak; its interval is then
    /// as wide as the peak at half of its power.
    pub frequency_hz: Estimate,
    /// RMS of the load in the octave around that frequency, from f/√2 to f√2, N: what the wheel swings with there,
    /// whatever makes it (two modes that the same land drives have no RMS of their own).
    pub rms_n: Estimate,
    /// Damping ratio of the mode; not there where the record is too short to resolve it, or the fit is poor.
    pub damping_ratio: Option<Estimate>,
    /// Further modes, the strongest first.
    pub further_modes: Vec<FurtherMode>,
    /// Whether no sum of modes describes the spectrum.
    pub poor_fit: bool,
}

/// A mode beside bobbing.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct FurtherMode {
    /// Undamped natural frequency, Hz.
    pub frequency_hz: Estimate,
    /// RMS of the tail load in the octave around that frequency, N; the octaves of two modes may overlap.
    pub rms_n: Estimate,
    /// Damping ratio; not there where the record is too short to resolve it.
    pub damping_ratio: Option<Estimate>,
}

/// What is to be known of bobbing, or why there is none.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum BobbingNote {
    /// No load was measured in which it could be seen.
    NoLoad,
    /// The working part is too short or too torn for a spectrum.
    NoSpectrum,
    /// No peak of the load stands out of its background.
    NoPeak,
    /// No sum of modes describes the spectrum.
    PoorFit,
    /// Without a speed a wheel out of round may be taken for it.
    NoSpeed,
    /// Slower bobbing cannot be seen.
    SlowNotSeen { seen_from_hz: f64 },
    /// What carries the load was off the ground for much of the time.
    MuchLifted { lifted_share: f64 },
    /// The plow is to be expected to swing faster than the box can show.
    BoxTooSlow { half_rate_hz: f64, whole_plow: bool },
    /// With the drawbar too steep the damping ratio comes out too high.
    DampingTooHigh,
}

/// A wheel that may be out of round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub enum Wheel {
    /// The tail wheel.
    #[serde(rename = "tail wheel")]
    Tail,
    /// The front wheels.
    #[serde(rename = "front wheels")]
    Front,
}

impl Wheel {
    /// Its name.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Tail => "tail wheel",
            Self::Front => "front wheels",
        }
    }
}

/// A peak that is a wheel turning, not bobbing.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WheelTurn {
    /// Which wheel.
    pub wheel: Wheel,
    /// Frequency of the peak, Hz.
    pub frequency_hz: Estimate,
}

/// Speed and way over the working part.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TravelFigures {
    /// Where the speed comes from.
    pub speed_from: SpeedFrom,
    /// Mean speed, m/s; not there where there are too few readings of it for an interval.
    pub mean_mps: Option<Estimate>,
    /// Way along the pass while the speed was known: its integral, m.
    pub distance_m: f64,
    /// Time for which the speed was not known, s.
    pub missing_s: f64,
    /// Straight way between the first and last place of each stretch with fixes, m; a check.
    pub places_m: Option<f64>,
    /// Way by the speed between the same places, m.
    pub between_places_m: Option<f64>,
}

/// A power spectral density against distance.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(extend("unit" = "that of the key that it stands under"))]
pub struct DistanceSpectrum {
    /// Each bin, cycles a meter.
    pub cycles_per_m: Vec<f64>,
    /// One-sided density; its integral is the variance (mean removed by segment).
    pub density: Vec<f64>,
    /// Equivalent χ² degrees of freedom of a bin.
    pub dof: f64,
}

/// In which of the two spectra of the tail load bobbing is the narrower peak.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub enum SharperBy {
    /// Against distance: a wave that lies in the ground.
    #[serde(rename = "distance")]
    Distance,
    /// Against time: an oscillation of the plow's own.
    #[serde(rename = "time")]
    Time,
    /// The pass does not show it.
    #[serde(rename = "not shown")]
    NotShown,
}

/// What only distance shows.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PerMetre {
    /// Distance from value to value, m.
    pub step_m: f64,
    /// Way in one cycle of bobbing at the mean speed, m; null without bobbing.
    pub wavelength_m: Option<Estimate>,
    /// Whether bobbing is sharper by distance or by time.
    pub sharper: SharperBy,
    /// Spectrum of the tail load, N²·m.
    pub tail_load_n2_m: DistanceSpectrum,
    /// Spectrum of the depth, mm²·m.
    pub depth_mm2_m: DistanceSpectrum,
}

/// How the tail load follows the pull below the bobbing band.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PullToTail {
    /// Low-frequency gain β, N per N.
    pub gain_n_per_n: Estimate,
    /// Coherence over the same band, 0 to 1.
    pub coherence: Estimate,
}

/// The statics worked out from the run: the value of each figure is the median of the kept draws, its ends are their
/// 2.5th and 97.5th percentile.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct StaticsFigures {
    /// σ.
    pub soil_slope: Estimate,
    /// Chance that the soil lifts the plow.
    pub soil_lifts_chance: f64,
    /// e, mm.
    pub pull_line_offset_mm: Estimate,
    /// b.
    pub balance_index: Estimate,
    /// x of the wheel load from the front axle, m.
    pub wheel_load_at_m: Estimate,
    /// Tail load / (tail load + front load).
    pub tail_share: Estimate,
    /// Front load, N.
    pub front_load_n: Estimate,
    /// β that this plow should have if the soil force only grows and shrinks along its line.
    pub expected_gain_n_per_n: Estimate,
    /// Share of the draws that cannot be (a carrying wheel with negative load), rejected and counted.
    pub rejected_share: f64,
    /// Share of the draws set aside because the soil would act at an unlikely height.
    pub set_aside_share: f64,
    /// Inputs by their share in the spread of b, the largest first.
    pub dominant_inputs: Vec<statics::identify::InputShare>,
}

impl Summary {
    /// Mean of the load that the pass is judged by, N.
    pub fn judged_mean_n(&self) -> Option<Estimate> {
        let vertical = self.tail_load.as_ref().or(self.front_load.as_ref()).map(|load| load.mean_n);
        vertical.or(self.top_link.as_ref().map(|force| force.mean_n))
    }
}

/// Everything that a summary says.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Summary {
    /// Which run.
    pub run: RunFacts,
    /// The part of it that was analyzed.
    pub working_part: WorkingPart,
    /// Quality of the readings.
    pub quality: Quality,
    /// Whether the calibrations hold for this run.
    pub calibration: CalibrationChecks,
    /// The pull.
    pub pull: PullFigures,
    /// The depth.
    pub depth: DepthFigures,
    /// The tail load; null where it was not measured.
    pub tail_load: Option<TailLoadFigures>,
    /// The front load, where the pass is judged by it; else null.
    pub front_load: Option<TailLoadFigures>,
    /// The force along the top link, where the pass is judged by it; else null.
    pub top_link: Option<PullFigures>,
    /// What the load that the pass is judged by is called: bobbing and the spectra are of it; null if there is none.
    pub judged_by: Option<&'static str>,
    /// Bobbing, or null.
    pub bobbing: Option<BobbingFigures>,
    /// Why there is none, or what is beside it.
    pub bobbing_notes: Vec<BobbingNote>,
    /// Spectrum of the load that the pass is judged by; null where the working part is too short or too torn for one.
    pub load_spectrum: Option<SpectrumFigures>,
    /// Frequencies at which the plow is to be expected to swing; null without front wheels or a load table.
    pub expected_frequencies: Option<statics::natural_frequencies::ExpectedFrequencies>,
    /// Peaks that are a wheel turning.
    pub wheel_turns: Vec<WheelTurn>,
    /// Speed and way; null where neither a box nor a receiver tells the speed.
    pub travel: Option<TravelFigures>,
    /// Spectra against distance; null without a speed for long enough.
    pub per_metre: Option<PerMetre>,
    /// Tail load against pull; null where the two are not coherent.
    pub pull_to_tail: Option<PullToTail>,
    /// The draft, and whether it can be; null without a depth, or with a setting that is not there.
    pub draft: Option<crate::draft::RunDraft>,
    /// The statics; null where the measurements contradict each other, which the verdict then says.
    pub statics: Option<StaticsFigures>,
    /// The verdict.
    pub verdict: statics::verdict::Verdict,
    /// What can be behind it.
    pub causes: crate::causes::Causes,
    /// What to do, the first thing first.
    pub advice: Vec<statics::advice::Advice>,
    /// Which measurements would narrow the balance index most, the best first, three at most.
    pub next_measurements: Vec<statics::value_of_information::NextMeasurement>,
    /// The user's own columns over the working part; not there without any. Nothing above is built on them.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub own_columns: Vec<OwnFigures>,
    /// Seeds of what was drawn at random.
    pub seeds: Seeds,
}
