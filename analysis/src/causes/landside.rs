//! A plow that is pressed or pulled sideways. Judged only where the hitch is balanced: a plow out of balance runs
//! crooked for that alone.

use super::{Cause, CauseKind, Likelihood, RunEvidence};
use crate::units_out::percent;
use statics::verdict::Class;

const CHECK: &str = ingest::raised_on_stands!(
    "look at the landside's heel for fresh wear. Then sight along the furrow wall from behind the standing plow."
);
/// A side force under this share of the pull is nothing to speak of, by choice.
const LITTLE_SHARE: f64 = 0.05;
/// From this share on it is much, by choice.
const MUCH_SHARE: f64 = 0.15;

/// By the mean side force over the mean pull: likely where its interval lies beyond the larger limit and the hitch
/// is balanced, possible beyond the smaller one, spoken against where it lies within that.
pub(super) fn cause(run: &RunEvidence<'_>) -> Cause {
    let mut cause = Cause::of(CauseKind::Landside, Likelihood::NotShown, CHECK);
    let Some(side_n) = run.side_n else {
        cause.cannot_tell = Some("cannot be told without a side-load channel".to_owned());
        return cause;
    };
    let pull_n = run.pull_n.value.abs().max(f64::MIN_POSITIVE);
    let least = if side_n.holds(0.0) { 0.0 } else { side_n.low.abs().min(side_n.high.abs()) / pull_n };
    let most = side_n.low.abs().max(side_n.high.abs()) / pull_n;
    let balanced = run.verdict.class == Class::Balanced;
    let said = format!(
        "mean side force {}, {} of the pull",
        run.units.force_interval(&side_n),
        percent(side_n.value.abs() / pull_n)
    );
    cause.likelihood = match (least >= MUCH_SHARE, least >= LITTLE_SHARE, most < LITTLE_SHARE) {
        (true, _, _) if balanced => Likelihood::Likely,
        (true, ..) | (_, true, _) => Likelihood::Possible,
        (_, _, true) => Likelihood::SpokenAgainst,
        _ => Likelihood::NotShown,
    };
    if least >= LITTLE_SHARE { &mut cause.evidence_for } else { &mut cause.evidence_against }.push(said);
    match (balanced, least >= LITTLE_SHARE) {
        (true, true) => cause.evidence_for.push("the hitch is balanced, so it is not that".to_owned()),
        (false, true) => {
            cause.evidence_against.push("the hitch is not shown to be balanced: settle that first".to_owned())
        }
        _ => {}
    }
    cause
}
