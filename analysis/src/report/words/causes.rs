//! The causes of a run: the list for the terminal, and the few lines that a page has room for.

use super::capital;
use super::evidence::Reader;
use crate::causes::{CannotTell, Cause, CauseKind, Likelihood, WorkStep};
use crate::report::units::Units;
use crate::summary::Summary;
use ingest::plow::{Kind, Plow};
use statics::natural_frequencies::{ExpectedFrequencies, SwingsAs};
use stats::Estimate;

/// What is said where no cause is shown or likely.
const NONE_STANDS_OUT: &str = "no cause stands out";
/// Lines on a page, that on the shares included.
const PAGE_LINES: usize = 3;

/// The list, a line each: what is supported with all that speaks for and against it, the rest by name.
pub fn causes_text(summary: &Summary, plow: &Plow, units: Units) -> Vec<String> {
    let causes = &summary.causes;
    let reader = Reader { load: summary.judged_by.unwrap_or("load"), plow, units };
    let none = if causes.stands_out { String::new() } else { format!(": {NONE_STANDS_OUT}") };
    let mut lines = vec![format!("causes{none}")];
    let beside = |what: &str, text: &str| format!("    {what:<8}{text}");
    for cause in causes.ranked.iter().filter(|cause| cause.likelihood <= Likelihood::Possible) {
        lines.push(format!("  {}: {}", cause.kind.label(), cause.likelihood.label().to_uppercase()));
        for (sign, evidence) in [("for", &cause.evidence_for), ("against", &cause.evidence_against)] {
            lines.extend(evidence.iter().map(|one| beside(sign, &reader.evidence(one))));
        }
        lines.extend(cause.cannot_tell.as_ref().map(|why| beside("but", &cannot_tell(why))));
        lines.push(beside("check", check(cause.kind)));
    }
    for step in [Likelihood::NotShown, Likelihood::SpokenAgainst] {
        let names: Vec<String> =
            causes.ranked.iter().filter(|cause| cause.likelihood == step).map(name_and_why).collect();
        lines.extend((!names.is_empty()).then(|| format!("  {}: {}", step.label(), names.join("; "))));
    }
    let shares = causes.shares_first.then(|| flatter_hides(plow));
    let bobbing_hz = summary.bobbing.as_ref().map(|bobbing| bobbing.frequency_hz);
    let expected = bobbing_hz.zip(summary.expected_frequencies).zip(causes.own_swing);
    let swing =
        expected.map(|((bobbing_hz, expected), swings_as)| own_swing(&bobbing_hz, &expected, swings_as));
    let order = Some(order_of_work(causes.order_of_work, plow));
    lines.extend([shares, swing, order].into_iter().flatten().map(|line| format!("  {line}")));
    lines
}

fn name_and_why(cause: &Cause) -> String {
    match &cause.cannot_tell {
        Some(why) => format!("{} ({})", cause.kind.label(), cannot_tell(why)),
        None => cause.kind.label().to_owned(),
    }
}

/// At most three lines: the causes that stand out, else those that are possible; and that a flatter drawbar hides
/// worn shares, where they are in question.
pub fn causes_lines(summary: &Summary, plow: &Plow, units: Units) -> Vec<String> {
    let causes = &summary.causes;
    let reader = Reader { load: summary.judged_by.unwrap_or("load"), plow, units };
    let places = PAGE_LINES - usize::from(causes.shares_first);
    let mut lines: Vec<String> = Vec::new();
    if causes.stands_out {
        let first = causes.ranked.iter().filter(|cause| cause.stands_out()).take(places);
        lines.extend(first.map(|cause| line(cause, &reader)));
    } else {
        let possible = causes.ranked.iter().filter(|cause| cause.likelihood == Likelihood::Possible);
        let names: Vec<&str> = possible.map(|cause| cause.kind.label()).collect();
        let possible = match names.as_slice() {
            [] => String::new(),
            names => format!("; possible: {}", names.join(", ")),
        };
        lines.push(format!("{}{possible}.", capital(NONE_STANDS_OUT)));
    }
    lines.extend(causes.shares_first.then(|| flatter_hides(plow)));
    lines
}

/// In which order a plow is put right, as a sentence.
pub fn order_of_work(steps: &[WorkStep], plow: &Plow) -> String {
    let name = |step: &WorkStep| match step {
        WorkStep::Shares => "shares",
        WorkStep::Landside => "landside",
        WorkStep::Tail => plow.part_names().tail,
        WorkStep::VerticalHitch => "vertical hitch",
        WorkStep::SidewaysHitch => "sideways hitch",
        WorkStep::Depth => "depth",
    };
    let names: Vec<&str> = steps.iter().map(name).collect();
    format!("Order of work: {}.", names.join(", "))
}

/// What is said where shares are in question.
fn flatter_hides(plow: &Plow) -> String {
    let names = plow.part_names();
    let what = match plow.kind() {
        Kind::Trailed | Kind::Walking => names.member,
        Kind::SemiMounted | Kind::Mounted => "hitch",
    };
    let front = names.front;
    format!(
        "Shares first: a flatter {what} only hides worn shares under more load on the {front}; it does not cure them."
    )
}

/// What bobbing is, by the frequencies to be expected.
fn own_swing(bobbing_hz: &Estimate, expected: &ExpectedFrequencies, swings_as: SwingsAs) -> String {
    let of = match swings_as {
        SwingsAs::OnTailSpring => "the plow on its tail spring",
        SwingsAs::OnFrontWheels => "the plow on its front wheels",
        SwingsAs::OnEither => "the plow on its tail spring or on its front wheels",
        SwingsAs::Neither => "neither the plow on its springs nor the turn of a wheel that is known",
    };
    let (lower, upper) = (expected.lower_hz, expected.upper_hz);
    format!(
        "bobbing at {:.2} Hz agrees with {of}: by weight, geometry and springs it would swing at {:.1} to {:.1} Hz on \
         the tail spring and at {:.1} to {:.1} Hz on the front wheels",
        bobbing_hz.value, lower.low, lower.high, upper.low, upper.high
    )
}

/// A cause that stands out, with the first thing that speaks for it.
fn line(cause: &Cause, reader: &Reader<'_>) -> String {
    let reason = cause.evidence_for.first().map(|one| format!(": {}", reader.evidence(one)));
    let (name, step) = (capital(cause.kind.label()), cause.likelihood.label());
    format!("{name}, {step}{}.", reason.unwrap_or_default())
}

/// What to check, one thing.
pub fn check(kind: CauseKind) -> &'static str {
    match kind {
        CauseKind::Sensors => concat!(
            "Record 5 s standing, plow lifted and drawbar slack, ",
            ingest::nobody_between!(),
            ", and calibrate what does not read its zero."
        ),
        CauseKind::Shares => ingest::raised_on_stands!(
            "lay a straightedge along the share's underside; a share without suction at its point is worn."
        ),
        CauseKind::Landside => ingest::raised_on_stands!(
            "look at the landside's heel for fresh wear. Then sight along the furrow wall from behind the standing plow."
        ),
        CauseKind::TailStop => ingest::engine_off_and_blocked!(
            "jack the tail wheel through its whole way and look where spring or linkage runs into something."
        ),
        CauseKind::TailPlay => ingest::engine_off_and_blocked!(
            "lift the tail wheel's arm and feel for play in its pins, bushings and the sensor's link."
        ),
        CauseKind::TailSticks => ingest::engine_off_and_blocked!(
            "move the tail wheel's arm by hand and watch the reading; it must follow at once, without a catch."
        ),
        CauseKind::TailOutOfRound => ingest::engine_off_and_blocked!(
            "jack the tail wheel clear of the ground and turn it past a fixed point; look at rim, tire and bearing."
        ),
        CauseKind::FrontOutOfRound => ingest::engine_off_and_blocked!(
            "jack each front wheel clear of the ground and turn it past a fixed point."
        ),
        CauseKind::TailFollows => ingest::engine_off_and_blocked!(
            "put known weights on the tail and set the deflection against the load table."
        ),
        CauseKind::HitchTooFlat | CauseKind::HitchTooSteep => "Follow \"what to do\": it names the holes.",
    }
}

fn cannot_tell(why: &CannotTell) -> String {
    let why = match why {
        CannotTell::Contradicted => "the measurements contradict each other",
        CannotTell::NothingAdded { share } => {
            return format!("the run adds nothing to the statement that the shares are {share}");
        }
        CannotTell::NoSideForce => "cannot be told without a side-load channel",
        CannotTell::NoDeflection => "cannot be told without the deflection of the spring",
        CannotTell::TooShort => "the working part is too short",
        CannotTell::NoSpeed => "cannot be told without a speed",
        CannotTell::NoLoad => "cannot be told without a load on wheels",
        CannotTell::TurnOutside { turn_hz } => {
            return format!("{turn_hz:.2} Hz is outside what the pass can show");
        }
        CannotTell::GainTooWide => "the measured gain is too uncertain",
        CannotTell::NoGain => "there was no gain to compare, or the wheel was lifted",
    };
    why.to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::plow;
    use ingest::plow::ShareCondition;
    use strum::VariantArray;

    #[test]
    fn every_cause_says_what_to_check() {
        assert!(CauseKind::ALL.iter().all(|kind| check(*kind).len() > 20 && check(*kind).ends_with('.')));
        assert!(cannot_tell(&CannotTell::NoSideForce).contains("side-load channel"));
        assert!(cannot_tell(&CannotTell::NoSpeed).contains("speed"));
        assert!(
            cannot_tell(&CannotTell::NothingAdded { share: ShareCondition::Worn }).contains("adds nothing")
        );
        assert!(flatter_hides(&plow()).contains("flatter drawbar"));
        assert!(
            order_of_work(WorkStep::VARIANTS, &plow())
                .contains("shares, landside, tail wheel, vertical hitch")
        );
    }

    #[test]
    fn bobbing_is_told_by_what_is_to_be_expected() {
        let around = |hz: f64, half: f64| Estimate::around(hz, half).unwrap();
        let expected = ExpectedFrequencies { lower_hz: around(3.0, 0.5), upper_hz: around(6.0, 1.0) };
        let told = |hz: f64, swings_as| own_swing(&around(hz, 0.1), &expected, swings_as);
        assert!(told(3.1, SwingsAs::OnTailSpring).contains("on its tail spring:"));
        assert!(told(1.5, SwingsAs::Neither).contains("neither"));
    }
}
