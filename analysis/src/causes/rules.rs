//! Sensors, shares, landside and hitch: how well each is supported as a cause, by the evidence of a run.

use super::cause::{CannotTell, Cause, CauseKind, Evidence, Likelihood};
use super::run_evidence::RunEvidence;
use ingest::plow::{CarriedLoad, ShareCondition};
use ingest::quantity::Quantity;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use statics::identify::{IdentifyError, SoilBasis};
use statics::soil::soil_slope_prior;
use statics::verdict::{Class, ClassProbabilities, GainAgreement};

/// Readings beyond the calibrated range for a smaller share do not decide a mean, by choice.
const BEYOND_SHARE_MIN: f64 = 0.1;

/// Sensors, zeros and calibrations: what decides whether all else can be believed.
///
/// Measurements that contradict each other show it, though not which of them is wrong; a channel at its end and a
/// zero that moved make it likely, no more, for the drawbar may not have been slack; a calibration that is old or
/// left makes it possible.
pub(super) fn sensors(run: &RunEvidence<'_>) -> Cause {
    let mut cause = Cause::of(CauseKind::Sensors, Likelihood::NotShown);
    let mut raise = |step: Likelihood, why: Evidence| {
        cause.likelihood = cause.likelihood.min(step);
        cause.evidence_for.push(why);
    };
    if let Err(error) = run.identified {
        let step = match error {
            IdentifyError::Contradiction { .. } => Likelihood::Shown,
            _ => Likelihood::Possible,
        };
        raise(step, Evidence::NoFigures { error: error.clone() });
    }
    let channels = run.channels;
    for &channel in &channels.bad {
        raise(Likelihood::Likely, Evidence::StuckOrAtEnd { channel });
    }
    for &channel in &channels.zero_moved {
        raise(Likelihood::Likely, Evidence::ZeroMoved { channel });
    }
    for &(channel, share) in channels.beyond_range.iter().filter(|(_, share)| *share >= BEYOND_SHARE_MIN) {
        raise(Likelihood::Possible, Evidence::BeyondRange { channel, share });
    }
    let named = |channels: &[String]| (!channels.is_empty()).then(|| channels.to_vec());
    if let Some(channels) = named(&channels.calibration_old) {
        raise(Likelihood::Possible, Evidence::CalibrationsOld { channels });
    }
    if let Some(channels) = named(&channels.calibration_after) {
        raise(Likelihood::Possible, Evidence::CalibrationsAfterRun { channels });
    }
    let sound = channels.zero_as_calibrated.iter().map(|&channel| Evidence::ZeroAsCalibrated { channel });
    cause.evidence_against = run.identified.iter().map(|_| Evidence::FitTogether).chain(sound).collect();
    cause
}

/// A run that moves the probability by less than this has added nothing to what was stated.
const MOVED_MIN: f64 = 0.05;
/// Shallower than described by this share is reported: by choice, for a gauge is often that far off.
const SHALLOWER_SHARE: f64 = 0.1;
/// Draws for the probability before the run.
const DRAWS: usize = 4_000;

/// Worn or blunt shares: the soil lifts the plow instead of drawing it in.
///
/// By the probability that the soil slope is above 0. Shares stated to be worn are possible until the run speaks against
/// them; where the run adds nothing to the statement, they are no more than possible.
pub(super) fn shares(run: &RunEvidence<'_>) -> Cause {
    let mut cause = Cause::of(CauseKind::Shares, Likelihood::NotShown);
    let share = run.share;
    let stated_worn = share == ShareCondition::Worn;
    // It moves no step: it shows where the shares carry so much that a wheel has lost its load (0 of 120 passes of
    // sharp shares in the tests), and not where worn shares only lift. Its absence speaks for nothing: deeper work
    // pulls harder, which hides it.
    let depth_follows = run.depth_on_pull.filter(|found| found.shares_carry).map(Evidence::DepthFollowsPull);
    let Ok(found) = run.identified else {
        if stated_worn {
            cause.likelihood = Likelihood::Possible;
            cause.add(true, Evidence::SharesStated { share });
        }
        cause.evidence_for.extend(depth_follows);
        return cause.untold(CannotTell::Contradicted);
    };
    let probability = found.lifts_probability;
    let before = probability_before(share);
    let adds = found.soil_basis == SoilBasis::BothLoads || (probability - before).abs() >= MOVED_MIN;
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
    cause.evidence_for.extend(depth_follows);
    cause
}

/// Probability of a soil slope above 0 by the stated condition alone; the same each time.
fn probability_before(share: ShareCondition) -> f64 {
    let spread = soil_slope_prior(share);
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    (0..DRAWS).filter(|_| spread.draw(&mut rng) > 0.0).count() as f64 / DRAWS as f64
}

/// A side force under this share of the pull is nothing to speak of, by choice.
const LITTLE_SHARE: f64 = 0.05;
/// From this share on it is much, by choice.
const MUCH_SHARE: f64 = 0.15;

/// A plow that is pressed or pulled sideways; judged only where the hitch is balanced: a plow out of balance runs
/// crooked for that alone.
///
/// By the mean side force over the mean pull: likely where its interval lies beyond the larger limit and the hitch
/// is balanced, possible beyond the smaller one, spoken against where it lies within that.
pub(super) fn landside(run: &RunEvidence<'_>) -> Cause {
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

/// The vertical hitch: by the probability of leaning or worse to that side; a wheel that lifts speaks for too flat besides.
pub(super) fn hitch(run: &RunEvidence<'_>) -> [Cause; 2] {
    [
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
