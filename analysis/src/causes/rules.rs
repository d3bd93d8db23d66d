//! How well each cause is supported, by the evidence of a run: sensors, shares, landside, hitch, and what a tail wheel and its
//! linkage may have.

use super::cause::{CannotTell, Cause, CauseKind, Evidence, Likelihood, Peaks, RunEvidence};
use super::ends::{End, pile_ups, runs_out, sharp_end};
use super::linkage::{Deflection, dead_band, holds};
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
            IdentifyError::Contradiction { .. } | IdentifyError::Unbelievable(_) => Likelihood::Shown,
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

/// Seed of the draws of the chance of worn shares before a run.
pub const SHARES_SEED: u64 = 1;

/// Probability of a soil slope above 0 by the stated condition alone; the same each time.
fn probability_before(share: ShareCondition) -> f64 {
    let spread = soil_slope_prior(share);
    let mut rng = ChaCha8Rng::seed_from_u64(SHARES_SEED);
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

/// Readings at an end of the converter above this share make a pile there the sensor's.
const SATURATED_SHARE: f64 = 0.001;

/// The tail wheel; of a plow without one nothing but its front wheels.
pub(super) fn tail_wheel(run: &RunEvidence<'_>) -> Vec<Cause> {
    if run.plow.tail.wheel().is_none() {
        return front_out_of_round(run).into_iter().collect();
    }
    let mut all = vec![stop(run), play(run), sticks(run), out_of_round(run)];
    all.extend(front_out_of_round(run));
    all.push(follows(run));
    all
}

/// Shown by a pile of readings at an end of the way, likely by an end that is cut off sharply (a spring that turns
/// hard does that too); possible where the sensor itself is at its end for some of the time. Ends that run out speak
/// against it.
fn stop(run: &RunEvidence<'_>) -> Cause {
    let mut cause = Cause::of(CauseKind::TailStop, Likelihood::NotShown);
    let Some(deflection) = run.deflection else { return not_seen(run, cause) };
    for pile in pile_ups(deflection).into_iter().filter(|pile| !is_lifted(run, pile.end, pile.at_mm)) {
        cause.likelihood = Likelihood::Shown;
        cause.add(true, Evidence::PilesUp(pile));
    }
    if let Some(sharp) = sharp_end(deflection).filter(|sharp| !is_lifted(run, sharp.end, sharp.at_mm)) {
        cause.likelihood = cause.likelihood.min(Likelihood::Likely);
        cause.add(true, Evidence::CutOff(sharp));
    }
    let saturated = run.deflection_saturated_share.is_some_and(|share| share > SATURATED_SHARE);
    match (cause.evidence_for.is_empty(), saturated) {
        (false, true) => {
            cause.likelihood = Likelihood::Possible;
            cause.add(false, Evidence::SensorAtEnd);
        }
        (true, _) if runs_out(deflection) => {
            cause.likelihood = Likelihood::SpokenAgainst;
            cause.add(false, Evidence::RunsOut);
        }
        _ => {}
    }
    cause
}

/// A wheel in the air rests at no load: that is reported as lifted time.
fn is_lifted(run: &RunEvidence<'_>, end: End, at_mm: f64) -> bool {
    let load_n = run.plow.tail.wheel().map(|wheel| wheel.load_table.load_n(at_mm / 1000.0));
    // Twice the load, because the middle of a pile lies inside of its end.
    let lifted = load_n.zip(run.lifted_load_n).is_some_and(|(load_n, lifted_n)| load_n <= 2.0 * lifted_n);
    end == End::Least && lifted
}

/// Shown by a band that the deflection jumps across; play that the load never takes up is not seen.
fn play(run: &RunEvidence<'_>) -> Cause {
    let jumps = |deflection: &Deflection<'_>| dead_band(deflection).map(Evidence::Jumps);
    by_deflection(run, CauseKind::TailPlay, Likelihood::Shown, jumps, Evidence::NoJumps)
}

/// Likely where the deflection holds still at one level after another: linkage and sensor both do that; shorter holds
/// are not seen.
fn sticks(run: &RunEvidence<'_>) -> Cause {
    let still = |deflection: &Deflection<'_>| {
        holds(deflection, lifted_mm(run, deflection)).map(Evidence::StandsStill)
    };
    by_deflection(run, CauseKind::TailSticks, Likelihood::Likely, still, Evidence::NeverStandsStill)
}

/// A cause that has this `likelihood` where the deflection shows it; where it does not, the run does not speak against
/// it.
fn by_deflection(
    run: &RunEvidence<'_>,
    kind: CauseKind,
    likelihood: Likelihood,
    shown: impl FnOnce(&Deflection<'_>) -> Option<Evidence>,
    not_shown: Evidence,
) -> Cause {
    let mut cause = Cause::of(kind, Likelihood::NotShown);
    let Some(deflection) = run.deflection else { return not_seen(run, cause) };
    match shown(deflection) {
        Some(evidence) => {
            cause.likelihood = likelihood;
            cause.add(true, evidence);
        }
        None => cause.add(false, not_shown),
    }
    cause
}

/// The deflection under which the wheel counts as lifted, a little noise allowed for.
fn lifted_mm(run: &RunEvidence<'_>, deflection: &Deflection<'_>) -> f64 {
    let wheel = run.plow.tail.wheel().zip(run.lifted_load_n);
    let lifted_m = wheel.map(|(wheel, lifted_n)| wheel.load_table.deflection_m(lifted_n));
    // Without such a load every level counts.
    lifted_m.map_or(f64::NEG_INFINITY, |lifted_m| 1000.0 * lifted_m + 0.05 * deflection.spread_mm())
}

/// A peak at v/(πD): shown where bobbing stands beside it as another peak, likely where it could be bobbing that
/// happens to lie there.
fn out_of_round(run: &RunEvidence<'_>) -> Cause {
    let mut cause = Cause::of(CauseKind::TailOutOfRound, Likelihood::NotShown);
    let peaks = &run.peaks;
    let Some(turn_hz) = peaks.tail_turn_expected_hz else { return cause.untold(CannotTell::NoSpeed) };
    if run.judged_by.is_none() {
        return cause.untold(CannotTell::NoLoad);
    }
    let Some((low_hz, high_hz)) = peaks.band_hz else { return cause.untold(CannotTell::TooShort) };
    match peaks.tail_turn_hz {
        Some(peak_hz) => {
            cause.likelihood = beside_bobbing(peaks);
            cause.add(true, Evidence::TailTurn { peak_hz, turn_hz });
            if peaks.bobbing_hz.is_none() {
                cause.add(false, Evidence::BobbingLooksTheSame);
            }
        }
        None if turn_hz > low_hz && turn_hz < high_hz => {
            cause.likelihood = Likelihood::SpokenAgainst;
            cause.add(false, Evidence::NoTailTurn { turn_hz });
        }
        None => return cause.untold(CannotTell::TurnOutside { turn_hz }),
    }
    cause
}

/// The front wheels are named only where they are seen: their turn reaches the tail load through the frame alone.
fn front_out_of_round(run: &RunEvidence<'_>) -> Option<Cause> {
    let peak_hz = run.peaks.front_turn_hz?;
    let mut cause = Cause::of(CauseKind::FrontOutOfRound, beside_bobbing(&run.peaks));
    cause.add(true, Evidence::FrontTurn { peak_hz });
    Some(cause)
}

fn beside_bobbing(peaks: &Peaks) -> Likelihood {
    if peaks.bobbing_hz.is_some() { Likelihood::Shown } else { Likelihood::Likely }
}

/// Possible where the measured gain and the statics disagree: shares, stop, linkage and calibration all do that.
fn follows(run: &RunEvidence<'_>) -> Cause {
    let mut cause = Cause::of(CauseKind::TailFollows, Likelihood::NotShown);
    let Ok(found) = run.identified else { return cause.untold(CannotTell::Contradicted) };
    let expected_gain_n_per_n = found.expected_gain_n_per_n;
    match run.verdict.gain {
        gain @ (GainAgreement::MeasuredLower | GainAgreement::MeasuredHigher) => {
            cause.likelihood = Likelihood::Possible;
            let rises = gain == GainAgreement::MeasuredHigher;
            cause.add(true, Evidence::GainOff { rises, expected_gain_n_per_n });
        }
        GainAgreement::Agrees => {
            cause.likelihood = Likelihood::SpokenAgainst;
            let expected_gain_n_per_n = expected_gain_n_per_n.value;
            cause.add(false, Evidence::GainAgrees { expected_gain_n_per_n });
        }
        GainAgreement::TooWide => return cause.untold(CannotTell::GainTooWide),
        GainAgreement::NotCompared => return cause.untold(CannotTell::NoGain),
    }
    cause
}

/// Why the deflection shows nothing.
fn not_seen(run: &RunEvidence<'_>, cause: Cause) -> Cause {
    let measured = run.judged_by == Some(CarriedLoad::TailSpring);
    cause.untold(if measured { CannotTell::TooShort } else { CannotTell::NoDeflection })
}
