//! The vertical hitch, from the verdict's chances.

use super::{Cause, CauseKind, Likelihood, RunEvidence};
use crate::units_out::{chance, percent, signed_interval};
use ingest::plow::CarriedLoad;
use statics::verdict::Chances;

const CHECK: &str = "Follow \"what to do\": it names the holes.";

/// By the chance of leaning or worse to that side; a wheel that lifts speaks for too flat besides.
pub(super) fn causes(run: &RunEvidence<'_>) -> Vec<Cause> {
    vec![
        side(run, CauseKind::HitchTooFlat, |chances| chances.too_flat + chances.leaning_flat),
        side(run, CauseKind::HitchTooSteep, |chances| chances.too_steep + chances.leaning_steep),
    ]
}

fn side(run: &RunEvidence<'_>, kind: CauseKind, of: impl Fn(&Chances) -> f64) -> Cause {
    let mut cause = Cause::of(kind, Likelihood::NotShown, CHECK);
    let (Ok(found), Some(chances)) = (run.identified, run.verdict.chances.as_ref()) else {
        cause.cannot_tell = Some("the measurements contradict each other".to_owned());
        return cause;
    };
    let share = of(chances);
    cause.likelihood = run.if_firm(Likelihood::of_chance(share));
    let said = format!("chance {}, balance index {}", chance(share), signed_interval(&found.balance_index));
    if share >= 0.5 { &mut cause.evidence_for } else { &mut cause.evidence_against }.push(said);
    if run.lifted_share > run.plow.limits.lifted_share {
        let parts = run.plow.part_names();
        let (carrier, of_it) = match run.judged_by {
            Some(CarriedLoad::Front) => (parts.front, CauseKind::HitchTooSteep),
            _ => (parts.tail, CauseKind::HitchTooFlat),
        };
        let said =
            format!("next to nothing was on the {carrier} for {} of the time", percent(run.lifted_share));
        if kind == of_it { &mut cause.evidence_for } else { &mut cause.evidence_against }.push(said);
    }
    // Only with a load on the front wheels: a height of the front would be read against the land here.
    if let Some(front) = run.front_at_peaks {
        let limit = run.plow.limits.lifted_share;
        let speaks_for_steep = front.loses_ground(limit);
        if speaks_for_steep || front.holds(limit) {
            let is_for = speaks_for_steep == (kind == CauseKind::HitchTooSteep);
            // A front that holds is no evidence of a drawbar too flat: a balanced plow has it too.
            if is_for && !speaks_for_steep {
                return cause;
            }
            let side = if is_for { &mut cause.evidence_for } else { &mut cause.evidence_against };
            side.push(front.sentence(run.units));
        }
    }
    cause
}
