//! Worn or blunt shares: the soil lifts the plow instead of drawing it in.

use super::{Cause, CauseKind, Likelihood, RunEvidence};
use crate::units_out::{chance, percent, signed_interval};
use ingest::plow::ShareCondition;
use ingest::quantity::Quantity;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use statics::identify::Evidence;
use statics::soil::soil_slope_prior;
use statics::verdict::GainAgreement;

const CHECK: &str = ingest::raised_on_stands!(
    "lay a straightedge along the share's underside; a share without suction at its point is worn."
);
/// A run that moves the chance by less than this has added nothing to what was stated.
const MOVED_MIN: f64 = 0.05;
/// Shallower than described by this share is told: by choice, for a gauge is often that far off.
const SHALLOWER_SHARE: f64 = 0.1;
/// Draws for the chance before the run.
const DRAWS: usize = 4_000;

/// By the chance that the soil slope is above 0. Shares stated to be worn are possible until the run speaks against
/// them; where the run adds nothing to the statement, they are no more than possible.
pub(super) fn cause(run: &RunEvidence<'_>) -> Cause {
    let mut cause = Cause::of(CauseKind::Shares, Likelihood::NotShown, CHECK);
    let stated_worn = run.share == ShareCondition::Worn;
    let Ok(found) = run.identified else {
        cause.cannot_tell = Some("the measurements contradict each other".to_owned());
        if stated_worn {
            cause.likelihood = Likelihood::Possible;
            cause.evidence_for.push(stated(run.share));
        }
        depth_follows(run, &mut cause);
        return cause;
    };
    let lifts = found.lifts_probability;
    let before = chance_before(run.share);
    let adds = found.evidence == Evidence::BothLoads || (lifts - before).abs() >= MOVED_MIN;
    cause.likelihood = match run.if_firm(Likelihood::of_chance(lifts)) {
        step if !adds => step.max(Likelihood::Possible),
        Likelihood::NotShown if stated_worn => Likelihood::Possible,
        step => step,
    };
    let said = format!(
        "the soil lifts the plow with a chance of {} (soil slope {})",
        chance(lifts),
        signed_interval(&found.soil_slope)
    );
    if lifts >= 0.5 { &mut cause.evidence_for } else { &mut cause.evidence_against }.push(said);
    match run.share {
        ShareCondition::Worn => cause.evidence_for.push(stated(run.share)),
        ShareCondition::Blunt => {}
        ShareCondition::Sharp => cause.evidence_against.push(stated(run.share)),
    }
    if !adds {
        let stated = run.share;
        cause.cannot_tell =
            Some(format!("the run adds nothing to the statement that the shares are {stated}"));
    }
    // These three say that the plow rides up; only what rests on the soil slope decides the step.
    if run.verdict.gain == GainAgreement::MeasuredLower {
        let text = "the tail wheel loses more load with pull than the statics says, as when the shares carry the plow";
        cause.evidence_for.push(text.to_owned());
    }
    let described_mm = run.plow.bottoms.depth.si() * 1000.0;
    if run.depth_mm.high < (1.0 - SHALLOWER_SHARE) * described_mm {
        let shallower = percent(1.0 - run.depth_mm.value / described_mm);
        cause.evidence_for.push(format!("the plow ran {shallower} shallower than it was blocked for"));
    }
    depth_follows(run, &mut cause);
    cause
}

/// Depth that falls with the pull, slowly, beyond what the springs of the wheels give, is evidence apart from the
/// statics. It moves no step: it shows where the shares carry so much that a wheel has lost its load (0 of 120 passes of
/// sharp shares in the tests), and not where worn shares only lift. Its absence speaks for nothing: deeper work pulls
/// harder, which hides it.
fn depth_follows(run: &RunEvidence<'_>, cause: &mut Cause) {
    let Some(found) = run.depth_on_pull.filter(|found| found.shares_carry) else { return };
    cause.evidence_for.push(found.sentence(run.units));
}

fn stated(share: ShareCondition) -> String {
    format!("the shares were stated to be {share}")
}

/// Chance of a soil slope above 0 by the stated condition alone; the same each time.
fn chance_before(share: ShareCondition) -> f64 {
    let spread = soil_slope_prior(share);
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    (0..DRAWS).filter(|_| spread.draw(&mut rng) > 0.0).count() as f64 / DRAWS as f64
}
