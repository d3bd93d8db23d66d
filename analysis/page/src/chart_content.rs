//! What the charts of a run show. All numbers are in the units named beside them; a chart cleans its texts as it sets
//! them.

use super::text::Sentence;
use serde::Serialize;

/// The balance index b with its 95 % interval and the limits of the bands.
#[derive(Clone, Debug)]
pub struct Gauge {
    /// Best value of b; +1 = nothing on what carries the tail, -1 = nothing on what carries the front.
    pub value: f64,
    /// Lower end of the 95 % interval.
    pub low: f64,
    /// Upper end of the 95 % interval.
    pub high: f64,
    /// |b| up to here is balanced.
    pub balanced: f64,
    /// |b| up to here is leaning, beyond it too flat or too steep.
    pub leaning: f64,
    /// What carries the front.
    pub front: &'static str,
    /// What carries the tail.
    pub tail: &'static str,
    /// No guide to the hitch: something else comes first, so the bands have no names and the pointer is open.
    pub set_aside: bool,
}

/// Readings without a gap between them.
#[derive(Clone, Debug, Default)]
pub struct Trace {
    /// Times, s, rising.
    pub t_s: Vec<f64>,
    /// One value a time, in the unit of the chart.
    pub values: Vec<f64>,
}

/// One channel against time.
#[derive(Clone, Debug, Default)]
pub struct Strip {
    /// Name of the channel ("depth").
    pub name: String,
    /// Unit of the values ("mm").
    pub unit: String,
    /// The readings; where two traces meet the line is broken.
    pub traces: Vec<Trace>,
    /// Mean over the working part.
    pub mean: Option<f64>,
    /// 5th percentile.
    pub p5: Option<f64>,
    /// 95th percentile.
    pub p95: Option<f64>,
    /// Stretches to hatch (lifted), from and to, s.
    pub hatched_s: Vec<(f64, f64)>,
    /// What hatching means ("lifted"); shown if there is any.
    pub hatch_name: String,
    /// Larger values further down, as depth is felt.
    pub downward: bool,
    /// Draw the zero line and keep zero in sight.
    pub zero_line: bool,
}

/// Power spectral density against frequency, both in the unit named.
#[derive(Clone, Debug)]
pub struct Spectrum {
    /// What was measured ("tail load").
    pub name: String,
    /// Unit of the density ("N²/Hz").
    pub unit: String,
    /// Frequencies, Hz, rising; bins at 0 Hz and below are left out.
    pub frequency_hz: Vec<f64>,
    /// Density, one a frequency.
    pub density: Vec<f64>,
    /// Fitted background, one a frequency, or empty.
    pub background: Vec<f64>,
    /// Lower end of the 95 % band of the density, or empty.
    pub low: Vec<f64>,
    /// Upper end of the 95 % band, or empty.
    pub high: Vec<f64>,
    /// The bobbing peak.
    pub bobbing: Option<Mark>,
    /// Sentence in its place if there is none ("no bobbing shown").
    pub no_bobbing: String,
    /// Frequencies at which a wheel turns, and those of further modes.
    pub wheel_turns: Vec<Mark>,
}

/// A frequency worth pointing at.
#[derive(Clone, Debug)]
pub struct Mark {
    /// Where, Hz.
    pub frequency_hz: f64,
    /// What ("bobbing 1.42 Hz", "tail wheel").
    pub label: String,
}

/// Readings of tail load against pull.
#[derive(Clone, Debug, Serialize)]
pub struct Scatter {
    /// What x is ("pull").
    #[serde(skip)]
    pub x: String,
    /// What y is ("tail load").
    #[serde(skip)]
    pub y: String,
    /// Unit of both ("kN").
    #[serde(skip)]
    pub unit: String,
    /// Readings (x, y); thinned evenly to some hundreds when there are more.
    #[serde(skip)]
    pub points: Vec<(f64, f64)>,
    /// What statics expects for flat, balanced, steep.
    #[serde(skip)]
    pub expected: Vec<SlopeLine>,
    /// The slope measured in the run.
    #[serde(skip)]
    pub measured: Option<SlopeLine>,
    /// Which setting the lines belong to, and why the measured one may lie beside them.
    pub note: Sentence,
}

/// How a straight line is drawn, so that it can be told apart without colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LineLook {
    /// Long dashes: too flat.
    Flat,
    /// Thin and unbroken: balanced.
    Balanced,
    /// Dots: too steep.
    Steep,
    /// Thick and unbroken: measured.
    Measured,
}

/// A straight line through a scatter.
#[derive(Clone, Debug)]
pub struct SlopeLine {
    /// Name in the key ("balanced").
    pub label: String,
    /// How it is drawn.
    pub look: LineLook,
    /// One point of it (x, y).
    pub through: (f64, f64),
    /// Rise in y for one x.
    pub slope: f64,
}

/// The balance index over the heights of both pins.
#[derive(Clone, Debug, Default)]
pub struct MapContent {
    /// Plow, setting and pull.
    pub title: String,
    /// Unit of all heights.
    pub unit: String,
    /// Heights at the plow, rising.
    pub x: Vec<f64>,
    /// What pulls: "tractor".
    pub puller: String,
    /// Heights at the tractor, rising.
    pub y: Vec<f64>,
    /// Where both carriers keep enough load, one row for each height at the tractor.
    pub keeps: Vec<Vec<bool>>,
    /// What that means, for the key.
    pub kept_words: String,
    /// Levels of b that get a line.
    pub levels: Vec<Level>,
    /// All pairs of holes.
    pub holes: Vec<(f64, f64)>,
    /// The pair in use.
    pub now: (f64, f64),
    /// The pair that it is advised to move to.
    pub advised: Option<(f64, f64)>,
    /// What is to be done before hands go to the pins.
    pub caution: String,
}

/// A line of equal balance index.
#[derive(Clone, Debug)]
pub struct Level {
    /// b on it.
    pub index: f64,
    /// How far above it each point is, laid out as `keeps`; `None` where the plow cannot be.
    pub above: Vec<Vec<Option<f64>>>,
}
