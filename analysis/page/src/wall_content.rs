//! What the wall diagram shows: one setting in large letters, and what the advised move does to it.

use super::force_diagram::{ForceDiagram, ScaleBar};
use super::text::Text;
use jiff::civil::Date;
use serde::Serialize;

/// The wall diagram.
///
/// All but title and date is in the one drawing, which cleans its texts as it sets them.
#[derive(Clone, Debug, Serialize)]
pub struct WallContent {
    /// Name of the setting.
    pub title: Text<200>,
    /// Day it was made for.
    #[serde(serialize_with = "super::content::day")]
    pub date: Option<Date>,
    /// Name of the plow; an example says in it that it is invented.
    #[serde(skip)]
    pub plow: String,
    /// Kind of plow, holes, pull: one line.
    #[serde(skip)]
    pub facts: String,
    /// The plow in its setting.
    #[serde(skip)]
    pub now: ForceDiagram,
    /// The same with the pins elsewhere; `None` if nothing is moved.
    #[serde(skip)]
    pub after: Option<ForceDiagram>,
    /// Why the pins are elsewhere.
    #[serde(skip)]
    pub then: Then,
    /// What is moved and by how many holes, in one sentence.
    #[serde(skip)]
    pub what_moves: String,
    /// Figures before and after.
    #[serde(skip)]
    pub figures: Vec<BeforeAfter>,
    /// The top view, if it was worked out.
    #[serde(skip)]
    pub top: Option<TopPanel>,
    /// The safety sentences, in full.
    #[serde(skip)]
    pub safety: Vec<String>,
    /// Where the figures come from.
    #[serde(skip)]
    pub provenance: String,
}

/// Why pins are elsewhere in a second set of lines.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Then {
    /// The move is advised.
    #[default]
    Advised,
    /// It was asked what if.
    Tried,
}

impl Then {
    /// Heads figures and lines.
    pub const fn head(self) -> &'static str {
        match self {
            Self::Advised => "after",
            Self::Tried => "tried",
        }
    }

    /// Where the pins are then.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Advised => "after the move",
            Self::Tried => "in the holes tried",
        }
    }
}

/// One figure before and after the move, ready to print.
#[derive(Clone, Debug)]
pub struct BeforeAfter {
    /// Its name.
    pub name: String,
    /// In the setting.
    pub now: String,
    /// After the move; empty if nothing is moved.
    pub after: String,
}

/// A point of the top view: x forward, y left (ISO 8855 directions).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlanM {
    /// Forward, m.
    pub x_m: f64,
    /// Left, m.
    pub y_m: f64,
}

/// The top view as plain shapes; travel is up the paper, left is left.
#[derive(Clone, Debug)]
pub struct TopPanel {
    /// Outlines of plow and tractor, each a row of points.
    pub outlines: Vec<Vec<PlanM>>,
    /// Walls and edges of the furrow: lines along the travel at these places to the left, with their names.
    pub edges: Vec<(f64, String)>,
    /// The line of pull, from and to.
    pub pull_line: (PlanM, PlanM),
    /// Points with a name: pin, centre of resistance.
    pub points: Vec<(PlanM, String)>,
    /// Forces on plow and tractor.
    pub arrows: Vec<PlanArrow>,
    /// Sentences below it, set in lines.
    pub sentences: Vec<String>,
    /// Scale of lengths, size in m.
    pub length_scale: ScaleBar,
    /// Scale of forces, size in N.
    pub force_scale: ScaleBar,
}

/// A force of the top view.
#[derive(Clone, Debug)]
pub struct PlanArrow {
    /// Where it acts.
    pub at: PlanM,
    /// Forward part, N.
    pub x_n: f64,
    /// Part to the left, N.
    pub y_n: f64,
    /// Name and size in display units; empty for a force that stands without one.
    pub label: String,
}
