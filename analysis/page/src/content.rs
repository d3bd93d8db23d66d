//! What a page shows, as plain data. Whoever fills it has done all reckoning and all formatting of figures:
//! nothing here is converted, so every number of a chart is already in the unit named beside it.
//!
//! Texts may come from outside (names, notes). They are shown literally and shortened where they are too
//! long; a character that the page's typeface lacks, or that would act instead of show, appears as its code
//! point.

pub use super::support::{Support, SupportLook};
use jiff::civil::Date;

/// The page for one run.
#[derive(Clone, Debug)]
pub struct RunContent {
    /// What every page has.
    pub head: Head,
    /// The verdict in large letters, with its reasons.
    pub verdict: Verdict,
    /// Balance index with its interval; `None` prints "balance index: not shown".
    pub gauge: Option<Gauge>,
    /// Side view with the forces at mean pull, to scale.
    pub forces: Option<ForceDiagram>,
    /// Depth against time.
    pub depth: Option<Strip>,
    /// Tail load against time, lifted stretches shaded.
    pub tail_load: Option<Strip>,
    /// Spectrum of that load.
    pub spectrum: Option<Spectrum>,
    /// Tail load against pull, with the lines statics expects.
    pub pull_tail: Option<Scatter>,
    /// Table of figures with their 95 % intervals.
    pub figures: Vec<FigureRow>,
    /// What to do next, most useful first, shown as far as their place goes.
    pub advice: Vec<WhatToDo>,
    /// What can be behind it, at most three sentences.
    pub causes: Vec<String>,
    /// In which order a plow is put right, in one line.
    pub order_of_work: String,
    /// How good the readings are: rate, gaps, saturation, working part.
    pub quality: Vec<String>,
    /// What the reader must not conclude, or must check first.
    pub cautions: Vec<String>,
    /// Where the figures come from, and the safety sentences.
    pub foot: Foot,
}

/// The top of every page.
#[derive(Clone, Debug)]
pub struct Head {
    /// Largest line: the name of the setting, or "A against B".
    pub title: String,
    /// Name of the plow.
    pub plow: String,
    /// Field, soil, shares, holes, note: shown in a row of name and value.
    pub facts: Vec<Fact>,
    /// Day of the run (not of printing), if it is known: also the date in the PDF, so that the same run gives the same
    /// bytes.
    pub date: Option<Date>,
}

/// One fact of the head.
#[derive(Clone, Debug)]
pub struct Fact {
    /// What it is ("soil").
    pub name: String,
    /// What it was ("clay loam, moist").
    pub value: String,
}

/// The bottom of every page.
#[derive(Clone, Debug)]
pub struct Foot {
    /// Run id, software version, calibration dates, seed.
    pub provenance: Vec<String>,
    /// The safety sentences, in full; they are never shortened.
    pub safety: Vec<String>,
}

/// One thing to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WhatToDo {
    /// What, and why.
    pub order: String,
    /// What the next pass should show.
    pub expectation: Option<String>,
}

/// How the large word is drawn: border and filling say it a second time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum VerdictLook {
    /// Far off: white on black.
    Far,
    /// Leaning: a thick border.
    Leaning,
    /// Balanced: a double border.
    Good,
    /// What it looks like, though it is not firm: a thin border and thin letters.
    Looks,
    /// Not shown: a dashed border.
    Open,
}

/// The verdict and why.
#[derive(Clone, Debug)]
pub struct Verdict {
    /// What the large word is said of; may be empty.
    pub subject: String,
    /// The large word.
    pub word: String,
    /// How it is drawn.
    pub look: VerdictLook,
    /// What the word means, in one sentence.
    pub neighbor: Option<String>,
    /// What stands under the large word so that it does not claim too much.
    pub note: Option<String>,
    /// One sentence each, shown as far as their place goes.
    pub reasons: Vec<String>,
}

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

/// A point of the side view in m: x forward of the front wheel axle, z above the land surface (ISO 8855
/// directions).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PointM {
    /// Forward, m.
    pub x_m: f64,
    /// Up, m.
    pub z_m: f64,
}

/// A force in the side view, N: x forward, z up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ForceN {
    /// Forward part, N.
    pub x_n: f64,
    /// Upward part, N.
    pub z_n: f64,
}

/// A bar that shows how long a length or a force is drawn.
#[derive(Clone, Debug)]
pub struct ScaleBar {
    /// Size in the SI unit of the diagram (m, or N).
    pub size: f64,
    /// The same in display units ("0.5 m", "1 ft", "2 kN").
    pub label: String,
}

/// The free body in the side view.
#[derive(Clone, Debug)]
pub struct ForceDiagram {
    /// What carries the front.
    pub front: Support,
    /// What carries the tail.
    pub tail: Support,
    /// What pulls, pin to pin: a drawbar or chain, or the links.
    pub members: Vec<(PointM, PointM)>,
    /// Where the plow's weight acts.
    pub weight_at: PointM,
    /// A point on the line of pull: drawbar pin at the plow, or where links meet.
    pub plow_hitch: PointM,
    /// A point of it further ahead: drawbar pin at the tractor.
    pub tractor_hitch: PointM,
    /// What that pin is called.
    pub tractor_hitch_name: String,
    /// Where the soil force acts.
    pub soil_at: PointM,
    /// The shares are what is to be seen to: they stand out, and are named.
    pub shares_first: bool,
    /// Steady point; `None` where the soil slope is not shown.
    pub steady: Option<PointM>,
    /// Depth of the furrow bottom below the land surface, m.
    pub depth_m: f64,
    /// Weight.
    pub weight: Arrow,
    /// Pull, acting forward at the plow hitch.
    pub pull: Arrow,
    /// Soil force, acting back at the soil point.
    pub soil: Arrow,
    /// Front load, the ground pushing up.
    pub front_load: Arrow,
    /// Tail load, the ground pushing up.
    pub tail_load: Arrow,
    /// Pull-line offset, in words ("e = 31 mm above"), written at the steady point.
    pub offset_label: Option<String>,
    /// Scale of lengths, size in m.
    pub length_scale: ScaleBar,
    /// Scale of forces, size in N.
    pub force_scale: ScaleBar,
}

impl ForceDiagram {
    /// Points that the body reaches to: hitch, soil, what carries it, and what pulls it.
    #[must_use]
    pub fn body_points(&self) -> Vec<PointM> {
        let mut points = vec![self.plow_hitch, self.soil_at];
        for support in [self.front, self.tail] {
            let (contact, diameter_m) = (support.contact, support.diameter_m());
            points.push(PointM { z_m: contact.z_m + support.height_m(), ..contact });
            points.extend([-0.5, 0.5].map(|way| PointM { x_m: contact.x_m + way * diameter_m, ..contact }));
        }
        points.extend(self.members.iter().flat_map(|member| [member.0, member.1]));
        points.push(PointM { x_m: self.soil_at.x_m, z_m: -self.depth_m });
        points
    }
}

/// One force with the text beside it.
#[derive(Clone, Debug)]
pub struct Arrow {
    /// The force.
    pub force: ForceN,
    /// Name and size in display units ("pull 6.1 kN").
    pub label: String,
}

/// Readings without a gap between them.
#[derive(Clone, Debug, Default)]
pub struct Segment {
    /// Times, s, rising.
    pub t_s: Vec<f64>,
    /// One value a time, in the unit of the chart.
    pub values: Vec<f64>,
}

/// One channel against time.
#[derive(Clone, Debug)]
pub struct Strip {
    /// Name of the channel ("depth").
    pub name: String,
    /// Unit of the values ("mm").
    pub unit: String,
    /// The readings; where two segments meet the line is broken.
    pub segments: Vec<Segment>,
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
#[derive(Clone, Debug)]
pub struct Scatter {
    /// Name and unit of the x axis.
    pub x: AxisName,
    /// Name and unit of the y axis.
    pub y: AxisName,
    /// Readings (x, y); thinned evenly to some hundreds when there are more.
    pub points: Vec<(f64, f64)>,
    /// What statics expects for flat, balanced, steep.
    pub expected: Vec<SlopeLine>,
    /// The slope measured in the run.
    pub measured: Option<SlopeLine>,
    /// Which setting the lines belong to, and why the measured one may lie beside them.
    pub note: String,
}

/// Name and unit of an axis.
#[derive(Clone, Debug)]
pub struct AxisName {
    /// "pull".
    pub name: String,
    /// "kN".
    pub unit: String,
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

/// One row of a table of figures; all strings are ready to print, an unknown one is "not shown".
#[derive(Clone, Debug)]
pub struct FigureRow {
    /// Name of the figure.
    pub name: String,
    /// Best value.
    pub value: String,
    /// 95 % interval ("12.1 to 14.0").
    pub interval: String,
    /// Unit, empty for a bare number.
    pub unit: String,
}
