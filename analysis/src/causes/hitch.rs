//! The vertical hitch, from the verdict's chances.

use super::cause::{Cause, CauseKind, Likelihood};
use super::evidence::{CannotTell, Evidence};
use super::run_evidence::RunEvidence;
use ingest::plow::CarriedLoad;
use statics::verdict::ClassProbabilities;

/// By the probability of leaning or worse to that side; a wheel that lifts speaks for too flat besides.
pub(super) fn causes(run: &RunEvidence<'_>) -> Vec<Cause> {
    vec![
        side(run, CauseKind::HitchTooFlat, |chances| chances.too_flat + chances.leaning_flat),
        side(run, CauseKind::HitchTooSteep, |chances| chances.too_steep + chances.leaning_steep),
    ]
}

fn side(run: &RunEvidence<'_>, kind: CauseKind, of: impl Fn(&ClassProbabilities) -> f64) -> Cause {
    let mut cause = Cause::of(kind, Likelihood::NotShown);
    let (Ok(found), Some(chances)) = (run.identified, run.verdict.chances.as_ref()) else {
        return cause.untold(CannotTell::Contradicted);
    };
    let probability = of(chances);
    let limit = run.plow.limits.lifted_share;
    cause.likelihood = run.if_firm(Likelihood::of_probability(probability));
    cause.add(probability >= 0.5, Evidence::HitchOff { probability, balance_index: found.balance_index });
    if let Some(share) = run.lifted_share.filter(|share| *share > limit) {
        let front = run.judged_by == Some(CarriedLoad::Front);
        let of_it = if front { CauseKind::HitchTooSteep } else { CauseKind::HitchTooFlat };
        cause.add(kind == of_it, Evidence::Lifted { front, share });
    }
    // Only with a load on the front wheels: a height of the front would be read against the land here. A front that
    // holds is no evidence of a drawbar too flat: a balanced plow has it too.
    if let Some(front) = run.front_at_peaks {
        let steep = kind == CauseKind::HitchTooSteep;
        if front.loses_ground(limit) {
            cause.add(steep, Evidence::FrontAtPeaks(front));
        } else if front.holds(limit) && steep {
            cause.add(false, Evidence::FrontAtPeaks(front));
        }
    }
    cause
}
