//! What a page shows, as plain data. Whoever fills it has done all reckoning and all formatting of figures:
//! nothing here is converted, so every number of a chart is already in the unit named beside it.
//!
//! Texts may come from outside (names, notes). Their types clean them as they are made and bound them by their place:
//! they are shown literally; a character that the page's typeface lacks, or that would act instead of show, appears as
//! its code point. The templates read these values as they are; what a chart alone shows is left out.

use super::chart_content::{Gauge, Scatter, Spectrum, Strip};
use super::force_diagram::ForceDiagram;
use super::text::{Cell, Figure, LargeWord, Lines, Order, Passage, RowCell, Sentence, Text, Title, Unit};
use super::wall_content::TopPanel;
use jiff::civil::Date;
use serde::{Serialize, Serializer};

/// The page for one run.
#[derive(Clone, Debug, Serialize)]
pub struct RunContent {
    /// What every page has.
    pub head: Head,
    /// The verdict in large letters, with its reasons.
    pub verdict: Verdict,
    /// Balance index with its interval; `None` prints "balance index: not shown".
    #[serde(skip)]
    pub gauge: Option<Gauge>,
    /// Side view with the forces at mean pull, to scale.
    #[serde(skip)]
    pub forces: Option<ForceDiagram>,
    /// Depth against time.
    #[serde(skip)]
    pub depth: Option<Strip>,
    /// Tail load against time, lifted stretches shaded.
    #[serde(skip)]
    pub tail_load: Option<Strip>,
    /// Spectrum of that load.
    #[serde(skip)]
    pub spectrum: Option<Spectrum>,
    /// Tail load against pull, with the lines statics expects.
    pub pull_tail: Option<Scatter>,
    /// Table of figures with their 95 % intervals.
    pub figures: Vec<FigureRow>,
    /// What to do next, most useful first, shown as far as their place goes.
    pub advice: Vec<WhatToDo>,
    /// What can be behind it, at most three sentences.
    pub causes: Lines<3, 150>,
    /// In which order a plow is put right, in one line.
    pub order_of_work: Text<140>,
    /// How good the readings are: rate, gaps, saturation, working part.
    pub quality: Passage<700>,
    /// What stands over the next.
    pub own_heading: Text<100>,
    /// The user's own columns, one a line; most pages have none.
    pub own_columns: Lines<8, 170>,
    /// What the reader must not conclude, or must check first.
    pub cautions: Passage<500>,
    /// Where the figures come from, and the safety sentences.
    pub foot: Foot,
}

/// The top of every page.
#[derive(Clone, Debug, Serialize)]
pub struct Head {
    /// Largest line: the name of the setting, or "A against B".
    pub title: Title,
    /// Name of the plow.
    pub plow: Text<60>,
    /// Field, soil, shares, holes, note: shown in a row of name and value.
    pub facts: Vec<Fact>,
    /// Day of the run (not of printing), if it is known: also the date in the PDF, so that the same run gives the same
    /// bytes.
    #[serde(serialize_with = "day")]
    pub date: Option<Date>,
}

/// One fact of the head.
#[derive(Clone, Debug, Serialize)]
pub struct Fact {
    /// What it is ("soil").
    pub name: Text<24>,
    /// What it was ("clay loam, moist").
    pub value: Text<120>,
}

impl Fact {
    /// A fact by its name.
    pub fn new(name: impl AsRef<str>, value: impl AsRef<str>) -> Self {
        Self { name: name.into(), value: value.into() }
    }
}

/// Year, month and day with hyphens (ISO 8601).
pub(crate) fn day<S: Serializer>(date: &Option<Date>, serializer: S) -> Result<S::Ok, S::Error> {
    date.map(|date| date.to_string()).serialize(serializer)
}

/// The bottom of every page.
#[derive(Clone, Debug, Serialize)]
pub struct Foot {
    /// Run id, software version, calibration dates, seed.
    pub provenance: Lines<5>,
    /// The safety sentences, in full; they are never shortened.
    pub safety: Vec<Text<4000>>,
}

/// One thing to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WhatToDo {
    /// What, and why.
    pub order: Order,
    /// What the next pass should show.
    pub expectation: Option<Sentence>,
}

/// How the large word is drawn: border and filling say it a second time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
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
#[derive(Clone, Debug, Serialize)]
pub struct Verdict {
    /// What the large word is said of; may be empty.
    pub subject: LargeWord,
    /// The large word.
    pub word: LargeWord,
    /// How it is drawn.
    pub look: VerdictLook,
    /// What the word means, in one sentence.
    pub neighbor: Option<Sentence>,
    /// What stands under the large word so that it does not claim too much.
    pub note: Option<Title>,
    /// One sentence each, shown as far as their place goes.
    pub reasons: Passage<1500>,
}

/// One row of a table of figures; all strings are ready to print, an unknown one is "not shown".
#[derive(Clone, Debug, Serialize)]
pub struct FigureRow {
    /// Name of the figure.
    pub name: Text<60>,
    /// Best value.
    pub value: Figure<20>,
    /// 95 % interval ("12.1 to 14.0").
    pub interval: Figure<32>,
    /// Unit, empty for a bare number.
    pub unit: Unit,
}

/// The page for a calculation from the plow's description alone.
#[derive(Clone, Debug, Serialize)]
pub struct StaticsContent {
    /// What every page has.
    pub head: Head,
    /// What the setting is expected to do; `None` leaves the verdict band out.
    pub verdict: Option<Verdict>,
    /// Expected balance index.
    #[serde(skip)]
    pub gauge: Option<Gauge>,
    /// Side view with the forces at the pull asked for, to scale.
    #[serde(skip)]
    pub forces: Option<ForceDiagram>,
    /// Loads, offset, balance index, expected gain.
    pub figures: Vec<FigureRow>,
    /// What each hole would do.
    pub holes: HoleTable,
    /// Expected draft against the pull asked for or measured.
    pub draft: Vec<FigureRow>,
    /// Sentences on the draft check: source, range, soil class.
    pub draft_notes: Lines<4>,
    /// What to do next.
    pub advice: Vec<WhatToDo>,
    /// What the reader must not conclude, or must check first.
    pub cautions: Lines<7>,
    /// Where the figures come from, and the safety sentences.
    pub foot: Foot,
}

/// A table with one row a hole; strings are ready to print.
#[derive(Clone, Debug, Serialize)]
pub struct HoleTable {
    /// Heads of the columns, the first for the name of the hole.
    pub columns: Vec<Cell>,
    /// One row a hole, as many cells as columns (missing ones stay empty).
    pub rows: Vec<HoleRow>,
}

/// One hole.
#[derive(Clone, Debug, Serialize)]
pub struct HoleRow {
    /// Cells, in the order of the columns.
    pub cells: Vec<Figure<44>>,
    /// True for the hole in use: marked and set in bold.
    pub in_use: bool,
}

/// The page for a comparison of two settings.
#[derive(Clone, Debug, Serialize)]
pub struct ComparisonContent {
    /// What every page has; the title names A and B.
    pub head: Head,
    /// Name of setting A.
    pub name_a: Title,
    /// Name of setting B.
    pub name_b: Title,
    /// The answer in a few words, in large letters ("B hops less").
    pub headline: RowCell,
    /// Sentences that carry it, the weightiest first.
    pub reasons: Lines<9>,
    /// Name of the effect size.
    pub effect_name: Figure<12>,
    /// One row a figure.
    pub rows: Vec<ComparisonRow>,
    /// How p values and intervals were made, in short sentences.
    pub method: Lines<5>,
    /// Plain warnings: too few runs, field variation not covered, ...
    pub warnings: Lines<6>,
    /// Where the figures come from, and the safety sentences.
    pub foot: Foot,
}

/// One figure in both settings; strings are ready to print, an unknown one is "not shown".
#[derive(Clone, Debug, Serialize)]
pub struct ComparisonRow {
    /// Name of the figure.
    pub name: Cell,
    /// Unit of the means, the difference and the dots.
    pub unit: Unit,
    /// Mean over the runs of A.
    pub mean_a: Figure<16>,
    /// Mean over the runs of B.
    pub mean_b: Figure<16>,
    /// A less B.
    pub difference: Figure<16>,
    /// Its 95 % interval.
    pub interval: Figure<32>,
    /// p of the t test (Welch's, or paired for blocks).
    pub p_t: Figure<12>,
    /// p of the permutation test.
    pub p_permutation: Figure<12>,
    /// The difference over its spread.
    pub effect_size: Figure<12>,
    /// Its 95 % interval; empty without.
    pub effect_interval: Figure<32>,
    /// p after Holm's correction over all figures of the page.
    pub p_holm: Figure<12>,
    /// "shown", "not shown", "shown to be under 20 N".
    pub conclusion: Text<60>,
    /// True if a difference is shown; such a row is set in bold.
    pub shown: bool,
    /// One value a run of A, for the dots.
    #[serde(skip)]
    pub runs_a: Vec<f64>,
    /// One value a run of B.
    #[serde(skip)]
    pub runs_b: Vec<f64>,
}

/// The page of the view from above.
#[derive(Clone, Debug, Serialize)]
pub struct TopContent {
    /// What every page has.
    pub head: Head,
    /// The drawing.
    #[serde(skip)]
    pub panel: TopPanel,
    /// Which way, and what to do, with the caution that goes with it.
    pub advice: Lines<9>,
    /// What the trade knows, and what the figures rest on.
    pub reasons: Lines<6>,
    /// Figures in sections.
    pub sections: Vec<Section>,
    /// Where the figures come from, and the safety sentences.
    pub foot: Foot,
}

/// Some figures under a title.
#[derive(Clone, Debug, Serialize)]
pub struct Section {
    /// May be empty.
    pub title: RowCell,
    /// Name and figure.
    pub rows: Vec<(RowCell, RowCell)>,
}
