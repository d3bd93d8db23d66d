//! A plow that is pressed or pulled sideways. Judged only where the hitch is balanced: a plow out of balance runs
//! crooked for that alone.

use super::cause::{Cause, CauseKind, Likelihood};
use super::evidence::{CannotTell, Evidence};
use super::run_evidence::RunEvidence;
use statics::verdict::Class;

/// A side force under this share of the pull is nothing to speak of, by choice.
const LITTLE_SHARE: f64 = 0.05;
/// From this share on it is much, by choice.
const MUCH_SHARE: f64 = 0.15;

/// By the mean side force over the mean pull: likely where its interval lies beyond the larger limit and the hitch
/// is balanced, possible beyond the smaller one, spoken against where it lies within that.
pub(super) fn cause(run: &RunEvidence<'_>) -> Cause {
    let mut cause = Cause::of(CauseKind::Landside, Likelihood::NotShown);
    let Some(side_n) = run.side_n else { return cause.untold(CannotTell::NoSideForce) };
    let pull_n = run.pull_n.value.abs().max(f64::MIN_POSITIVE);
    let least = if side_n.holds(0.0) { 0.0 } else { side_n.low.abs().min(side_n.high.abs()) / pull_n };
    let most = side_n.low.abs().max(side_n.high.abs()) / pull_n;
    let balanced = run.verdict.class == Class::Balanced;
    cause.likelihood = match (least >= MUCH_SHARE, least >= LITTLE_SHARE, most < LITTLE_SHARE) {
        (true, _, _) if balanced => Likelihood::Likely,
        (true, ..) | (_, true, _) => Likelihood::Possible,
        (_, _, true) => Likelihood::SpokenAgainst,
        _ => Likelihood::NotShown,
    };
    let share_of_pull = side_n.value.abs() / pull_n;
    cause.add(least >= LITTLE_SHARE, Evidence::SideForce { side_n, share_of_pull });
    if least >= LITTLE_SHARE {
        let hitch = if balanced { Evidence::HitchBalanced } else { Evidence::HitchNotBalanced };
        cause.add(balanced, hitch);
    }
    cause
}
