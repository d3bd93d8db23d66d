//! Worn or blunt shares: the soil lifts the plow instead of drawing it in.

use super::cause::{Cause, CauseKind, Likelihood};
use super::evidence::{CannotTell, Evidence};
use super::run_evidence::RunEvidence;
use ingest::plow::ShareCondition;
use ingest::quantity::Quantity;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use statics::identify::Evidence as RestsOn;
use statics::soil::soil_slope_prior;
use statics::verdict::GainAgreement;

/// A run that moves the probability by less than this has added nothing to what was stated.
const MOVED_MIN: f64 = 0.05;
/// Shallower than described by this share is reported: by choice, for a gauge is often that far off.
const SHALLOWER_SHARE: f64 = 0.1;
/// Draws for the probability before the run.
const DRAWS: usize = 4_000;

/// By the probability that the soil slope is above 0. Shares stated to be worn are possible until the run speaks against
/// them; where the run adds nothing to the statement, they are no more than possible.
pub(super) fn cause(run: &RunEvidence<'_>) -> Cause {
    let mut cause = Cause::of(CauseKind::Shares, Likelihood::NotShown);
    let share = run.share;
    let stated_worn = share == ShareCondition::Worn;
    let Ok(found) = run.identified else {
        cause.cannot_tell = Some(CannotTell::Contradicted);
        if stated_worn {
            cause.likelihood = Likelihood::Possible;
            cause.add(true, Evidence::SharesStated { share });
        }
        depth_follows(run, &mut cause);
        return cause;
    };
    let probability = found.lifts_probability;
    let before = probability_before(share);
    let adds = found.evidence == RestsOn::BothLoads || (probability - before).abs() >= MOVED_MIN;
    cause.likelihood = match run.if_firm(Likelihood::of_probability(probability)) {
        step if !adds => step.max(Likelihood::Possible),
        Likelihood::NotShown if stated_worn => Likelihood::Possible,
        step => step,
    };
    let soil_slope = found.soil_slope;
    cause.add(probability >= 0.5, Evidence::SoilLifts { probability, soil_slope });
    if share != ShareCondition::Blunt {
        cause.add(stated_worn, Evidence::SharesStated { share });
    }
    cause.cannot_tell = (!adds).then_some(CannotTell::NothingAdded { share });
    // These three say that the plow rides up; only what rests on the soil slope decides the step.
    if run.verdict.gain == GainAgreement::MeasuredLower {
        cause.add(true, Evidence::TailLosesMore);
    }
    let described_mm = run.plow.bottoms.depth.si() * 1000.0;
    if run.depth_mm.high < (1.0 - SHALLOWER_SHARE) * described_mm {
        cause.add(true, Evidence::RanShallower { share: 1.0 - run.depth_mm.value / described_mm });
    }
    depth_follows(run, &mut cause);
    cause
}

/// Depth that falls with the pull, slowly, beyond what the springs of the wheels give, is evidence apart from the
/// statics. It moves no step: it shows where the shares carry so much that a wheel has lost its load (0 of 120 passes of
/// sharp shares in the tests), and not where worn shares only lift. Its absence speaks for nothing: deeper work pulls
/// harder, which hides it.
fn depth_follows(run: &RunEvidence<'_>, cause: &mut Cause) {
    let found = run.depth_on_pull.filter(|found| found.shares_carry);
    cause.evidence_for.extend(found.map(Evidence::DepthFollowsPull));
}

/// Probability of a soil slope above 0 by the stated condition alone; the same each time.
fn probability_before(share: ShareCondition) -> f64 {
    let spread = soil_slope_prior(share);
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    (0..DRAWS).filter(|_| spread.draw(&mut rng) > 0.0).count() as f64 / DRAWS as f64
}
