//! What can be behind a plow that does not run right: a list of causes, each with what speaks for it and what
//! against, the best supported first.
//!
//! The steps are given by rules that stand beside each cause:
//! *shown*: a test with a stated rate of false alarms, or a probability of 95 % and more;
//! *likely*: a probability of 80 % and more, or a test that one other thing would pass too;
//! *possible*: a probability of 50 % and more, or a sign that several things would give;
//! *not shown*: looked for, or not to be seen with the sensors there are;
//! *spoken against*: a probability of 5 % and less, or a test that would have seen it.
//!
//! # What can be seen of a tail wheel
//!
//! What the tests for faults of the tail wheel can see, on 56 s of the virtual plow at 50 Hz
//! (`causes/tests/series.rs` prints it; 0 false alarms of each in 120 passes), and for a wheel out of round on 60 s
//! at 100 Hz:
//!
//! | fault | found in nearly every pass from | not seen |
//! | --- | --- | --- |
//! | stop that is struck | a free wheel would be beyond it for 10 % of the time (5 %: 8 passes of 10) | 1 % |
//! | stop that is leaned on (readings pile up) | 20 % of the time at it (10 %: 7 of 10) | 0.5 % |
//! | free play | a quarter of the spread (5th to 95th percentile) of the deflection (a tenth: 7 of 10) | 4 % |
//! | sticking for 0.4 to 1 s at a time | 20 % of the time (10 %: 9 of 10) | 3 %, and shorter holds |
//! | tail wheel out of round, with a speed | 1 mm up and down (0.6 mm: 8 of 10) | 0.3 mm |
//!
//! Nothing shows how a real linkage fails: the faults were put in, at the places where they were looked for.

mod apart_from_balance;
mod cause;
mod ends;
mod linkage;
mod rules;

pub use apart_from_balance::{DepthOnPull, FrontAtPeaks, OFF_GROUND_SHARE, tail_lever};
pub use cause::{CannotTell, Cause, CauseKind, ChannelIndicators, Evidence, Likelihood, Peaks, RunEvidence};
pub use ends::{End, PileUp, SharpEnd, pile_ups, sharp_end};
pub use linkage::{DeadBand, Deflection, Holds, dead_band, holds};
pub use rules::SHARES_SEED;

use ingest::plow::ShareCondition;
use schemars::JsonSchema;
use serde::Serialize;
use statics::natural_frequencies::SwingsAs;
use strum::VariantArray;

/// What is put right one after the other, in this order: what stands first spoils all that stands behind it. Common
/// practice, no source.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema, VariantArray)]
#[serde(rename_all = "snake_case")]
pub enum WorkStep {
    /// The shares.
    Shares,
    /// The landside.
    Landside,
    /// What carries the tail.
    Tail,
    /// The height of the hitch.
    VerticalHitch,
    /// Where the hitch pulls across.
    SidewaysHitch,
    /// The depth.
    Depth,
}

/// All causes that are looked for.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Causes {
    /// The best supported first.
    pub ranked: Vec<Cause>,
    /// Whether any is shown or likely.
    pub stands_out: bool,
    /// Whether the shares are in question: a flatter drawbar hides worn shares and does not cure them.
    pub shares_first: bool,
    /// Slow gain of depth on pull; null where it cannot be had.
    pub depth_on_pull: Option<DepthOnPull>,
    /// Front load at the peaks of the pull; null without a channel for it.
    pub front_at_peaks: Option<FrontAtPeaks>,
    /// In which order a plow is put right.
    pub order_of_work: &'static [WorkStep],
    /// What bobbing is, by the frequencies to be expected; null where there is none of either.
    pub own_swing: Option<SwingsAs>,
}

/// All causes of a run, the best supported first; causes that are as well supported stand in the order of work.
pub fn causes(run: &RunEvidence<'_>) -> Causes {
    let mut ranked = vec![rules::sensors(run), rules::shares(run), rules::landside(run)];
    ranked.extend(rules::tail_wheel(run));
    ranked.extend(rules::hitch(run));
    ranked.sort_by_key(|cause| (cause.likelihood, cause.kind));
    let worn = ranked.iter().find(|cause| cause.kind == CauseKind::Shares);
    let shares_first = worn.is_some_and(|cause| {
        cause.stands_out()
            || (run.share == ShareCondition::Worn && cause.likelihood != Likelihood::SpokenAgainst)
    });
    Causes {
        stands_out: ranked.iter().any(Cause::stands_out),
        shares_first,
        ranked,
        order_of_work: WorkStep::VARIANTS,
        depth_on_pull: run.depth_on_pull,
        front_at_peaks: run.front_at_peaks,
        own_swing: run.peaks.own_swing(),
    }
}

#[cfg(test)]
mod tests;
