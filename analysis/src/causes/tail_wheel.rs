//! The tail wheel: stop, free play, sticking, out of round, and a load that follows the pull oddly.

use super::{
    Cause, CauseKind, DeadBand, Deflection, End, Holds, Likelihood, PileUp, RunEvidence, SharpEnd, dead_band,
    holds, pile_ups, runs_out, sharp_end,
};
use crate::units_out::{percent, signed, signed_interval};
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
    let check = ingest::engine_off_and_blocked!(
        "jack the tail wheel through its whole way and look where spring or linkage runs into something."
    );
    let mut cause = Cause::of(CauseKind::TailStop, Likelihood::NotShown, check);
    let Some(deflection) = run.deflection else { return not_seen(run, cause) };
    for pile in pile_ups(deflection).iter().filter(|pile| !is_lifted(run, pile.end, pile.at_mm)) {
        cause.likelihood = Likelihood::Shown;
        cause.evidence_for.push(piles_up(run, pile));
    }
    if let Some(sharp) = sharp_end(deflection).filter(|sharp| !is_lifted(run, sharp.end, sharp.at_mm)) {
        cause.likelihood = cause.likelihood.min(Likelihood::Likely);
        cause.evidence_for.push(ends_sharply(run, &sharp));
    }
    match (cause.evidence_for.is_empty(), run.deflection_saturated_share > SATURATED_SHARE) {
        (false, true) => {
            cause.likelihood = Likelihood::Possible;
            let alone = "the sensor was at the end of its converter: it may be that alone";
            cause.evidence_against.push(alone.to_owned());
        }
        (true, _) if runs_out(deflection) => {
            cause.likelihood = Likelihood::SpokenAgainst;
            cause.evidence_against.push("the deflection runs out as a free wheel's does".to_owned());
        }
        _ => {}
    }
    cause
}

fn piles_up(run: &RunEvidence<'_>, pile: &PileUp) -> String {
    format!(
        "the deflection piles up at its {}, {}: {} of the readings, {:.0} times as many as beside it, {} times over",
        end_name(pile.end),
        run.units.height(pile.at_mm / 1000.0),
        percent(pile.share),
        pile.ratio,
        pile.visits
    )
}

fn ends_sharply(run: &RunEvidence<'_>, sharp: &SharpEnd) -> String {
    format!(
        "the deflection is cut off at its {}, {}: its outermost twentieth lies within {}, that of the other end \
         within {}",
        end_name(sharp.end),
        run.units.height(sharp.at_mm / 1000.0),
        run.units.small_height(sharp.length_mm / 1000.0),
        run.units.small_height(sharp.other_mm / 1000.0)
    )
}

fn end_name(end: End) -> &'static str {
    match end {
        End::Most => "most",
        End::Least => "least",
    }
}

/// A wheel in the air rests at no load: that is told as lifted time.
fn is_lifted(run: &RunEvidence<'_>, end: End, at_mm: f64) -> bool {
    // Twice the load, because the middle of a pile lies inside of its end.
    let load_n = run.plow.tail.wheel().map(|wheel| wheel.load_table.load_n(at_mm / 1000.0));
    end == End::Least && load_n.is_some_and(|load_n| load_n <= 2.0 * run.lifted_load_n)
}

/// Shown by a band that the deflection jumps across.
fn play(run: &RunEvidence<'_>) -> Cause {
    let check = ingest::engine_off_and_blocked!(
        "lift the tail wheel's arm and feel for play in its pins, bushings and the sensor's link."
    );
    let mut cause = Cause::of(CauseKind::TailPlay, Likelihood::NotShown, check);
    let Some(deflection) = run.deflection else { return not_seen(run, cause) };
    match dead_band(deflection) {
        Some(DeadBand { low_mm, high_mm, crossings, speed_ratio, .. }) => {
            cause.likelihood = Likelihood::Shown;
            cause.evidence_for.push(format!(
                "the deflection jumps between about {} and {}, {crossings} times, {speed_ratio:.1} times as fast as \
                 it moves beside that, and is hardly ever in between",
                run.units.small_height(low_mm / 1000.0),
                run.units.small_height(high_mm / 1000.0),
            ));
        }
        // Play that the load never takes up is not seen, so the run does not speak against it.
        None => cause.evidence_against.push("no band that the deflection jumps across".to_owned()),
    }
    cause
}

/// Likely where the deflection holds still at one level after another: linkage and sensor both do that.
fn sticks(run: &RunEvidence<'_>) -> Cause {
    let check = ingest::engine_off_and_blocked!(
        "move the tail wheel's arm by hand and watch the reading; it must follow at once, without a catch."
    );
    let mut cause = Cause::of(CauseKind::TailSticks, Likelihood::NotShown, check);
    let Some(deflection) = run.deflection else { return not_seen(run, cause) };
    match holds(deflection, lifted_mm(run, deflection)) {
        Some(Holds { holds, share, longest_s }) => {
            cause.likelihood = Likelihood::Likely;
            cause.evidence_for.push(format!(
                "the deflection stood still {holds} times at one level or another, {} of the time, up to \
                 {longest_s:.1} s",
                percent(share)
            ));
        }
        // Shorter holds are not seen, so the run does not speak against it.
        None => {
            cause.evidence_against.push("the deflection does not hold still while the plow works".to_owned())
        }
    }
    cause
}

/// The deflection under which the wheel counts as lifted, a little noise allowed for.
fn lifted_mm(run: &RunEvidence<'_>, deflection: &Deflection<'_>) -> f64 {
    let lifted_m = run.plow.tail.wheel().map(|wheel| wheel.load_table.deflection_m(run.lifted_load_n));
    lifted_m.map_or(f64::NEG_INFINITY, |lifted_m| 1000.0 * lifted_m + 0.05 * deflection.spread_mm())
}

/// A peak at v/(πD): shown where bobbing stands beside it as another peak, likely where it could be bobbing that
/// happens to lie there.
fn out_of_round(run: &RunEvidence<'_>) -> Cause {
    let check = ingest::engine_off_and_blocked!(
        "jack the tail wheel clear of the ground and turn it past a fixed point; look at rim, tire and bearing."
    );
    let mut cause = Cause::of(CauseKind::TailOutOfRound, Likelihood::NotShown, check);
    let peaks = &run.peaks;
    let Some(expected_hz) = peaks.tail_turn_expected_hz else {
        cause.cannot_tell = Some("cannot be told without a speed".to_owned());
        return cause;
    };
    if run.judged_by.is_none() {
        cause.cannot_tell = Some("cannot be told without a load on wheels".to_owned());
        return cause;
    }
    if !peaks.searched {
        return too_short(cause);
    }
    match peaks.tail_turn_hz {
        Some(hz) => {
            cause.likelihood = beside_bobbing(peaks.bobbing_hz);
            cause.evidence_for.push(format!(
                "the {} has a peak at {hz:.2} Hz, where the wheel turns once ({expected_hz:.2} Hz)",
                load_name(run)
            ));
            if peaks.bobbing_hz.is_none() {
                cause
                    .evidence_against
                    .push("bobbing that happens to lie there would look the same".to_owned());
            }
        }
        None if expected_hz > peaks.band_hz.0 && expected_hz < peaks.band_hz.1 => {
            cause.likelihood = Likelihood::SpokenAgainst;
            cause
                .evidence_against
                .push(format!("no peak at {expected_hz:.2} Hz, where the wheel turns once"));
        }
        None => cause.cannot_tell = Some(format!("{expected_hz:.2} Hz is outside what the pass can show")),
    }
    cause
}

/// The front wheels are named only where they are seen: their turn reaches the tail load through the frame alone.
fn front_out_of_round(run: &RunEvidence<'_>) -> Option<Cause> {
    let hz = run.peaks.front_turn_hz?;
    let check = ingest::engine_off_and_blocked!(
        "jack each front wheel clear of the ground and turn it past a fixed point."
    );
    let mut cause = Cause::of(CauseKind::FrontOutOfRound, beside_bobbing(run.peaks.bobbing_hz), check);
    cause
        .evidence_for
        .push(format!("the {} has a peak at {hz:.2} Hz, where the front wheels turn once", load_name(run)));
    Some(cause)
}

fn beside_bobbing(bobbing_hz: Option<f64>) -> Likelihood {
    if bobbing_hz.is_some() { Likelihood::Shown } else { Likelihood::Likely }
}

/// Possible where the measured gain and the statics disagree: shares, stop, linkage and calibration all do that.
fn follows(run: &RunEvidence<'_>) -> Cause {
    let check = ingest::engine_off_and_blocked!(
        "put known weights on the tail and set the deflection against the load table."
    );
    let mut cause = Cause::of(CauseKind::TailFollows, Likelihood::NotShown, check);
    let Ok(found) = run.identified else {
        cause.cannot_tell = Some("the measurements contradict each other".to_owned());
        return cause;
    };
    let statics = signed_interval(&found.expected_gain_n_per_n);
    let off = |way: &str| {
        format!(
            "the tail load {way} with the pull than the statics says ({statics} for each unit of pull): stop, \
             linkage, load table or a soil force that moves"
        )
    };
    match run.verdict.gain {
        GainAgreement::MeasuredLower => {
            cause.likelihood = Likelihood::Possible;
            cause.evidence_for.push(off("falls more"));
        }
        GainAgreement::MeasuredHigher => {
            cause.likelihood = Likelihood::Possible;
            cause.evidence_for.push(off("rises more"));
        }
        GainAgreement::Agrees => {
            cause.likelihood = Likelihood::SpokenAgainst;
            let middle = signed(found.expected_gain_n_per_n.value);
            cause
                .evidence_against
                .push(format!("the tail load follows the pull as the statics says ({middle})"));
        }
        GainAgreement::TooWide => cause.cannot_tell = Some("the measured gain is too uncertain".to_owned()),
        GainAgreement::NotCompared => {
            cause.cannot_tell = Some("there was no gain to compare, or the wheel was lifted".to_owned());
        }
    }
    cause
}

/// Why the deflection shows nothing.
fn not_seen(run: &RunEvidence<'_>, mut cause: Cause) -> Cause {
    if run.judged_by == Some(CarriedLoad::TailSpring) {
        return too_short(cause);
    }
    cause.cannot_tell = Some("cannot be told without the deflection of the spring".to_owned());
    cause
}

/// What the load is called whose spectrum was searched.
fn load_name(run: &RunEvidence<'_>) -> &'static str {
    run.judged_by.map_or("load", |load| load.name(&run.plow.part_names()))
}

fn too_short(mut cause: Cause) -> Cause {
    cause.cannot_tell = Some("the working part is too short".to_owned());
    cause
}
