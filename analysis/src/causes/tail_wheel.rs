//! The tail wheel: stop, free play, sticking, out of round, and a load that follows the pull oddly.

use super::cause::{CannotTell, Cause, CauseKind, Evidence, Likelihood};
use super::dead_band::dead_band;
use super::deflection::Deflection;
use super::ends::{End, pile_ups, runs_out, sharp_end};
use super::holds::holds;
use super::run_evidence::{Peaks, RunEvidence};
use ingest::plow::CarriedLoad;
use statics::verdict::GainAgreement;

/// Readings at an end of the converter above this share make a pile there the sensor's.
const SATURATED_SHARE: f64 = 0.001;

/// Of a plow without a tail wheel nothing but its front wheels.
pub(super) fn causes(run: &RunEvidence<'_>) -> Vec<Cause> {
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
