//! Why: short plain sentences with the numbers that the verdict rests on.

use super::{Chances, Class, RunSigns};
use crate::statics::draw::Draw;
use crate::statics::identify::{Evidence, Identified, IdentifyError};
use crate::statics::inputs::Measured;
use crate::units_out::{Units, chance, percent, signed, signed_interval};
use ingest::plow::{Limits, Plow};
use serde::Serialize;

/// The measured low-frequency gain against the one that the statics gives for this plow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum GainAgreement {
    /// The interval of their difference holds 0, and would not for a plow of quite another class.
    Agrees,
    /// It holds 0, but it is so wide that a balanced plow and one too flat or too steep would both agree.
    TooWide,
    /// The measured one is lower: the tail wheel loses more load with pull than the statics says.
    MeasuredLower,
    /// The measured one is higher.
    MeasuredHigher,
    /// There was none to compare, or the tail wheel was off the ground for part of the time.
    NotCompared,
}

/// What the sentences draw on.
pub(super) struct Ground<'a> {
    pub plow: &'a Plow,
    pub found: &'a Identified,
    pub signs: &'a RunSigns,
    pub chances: Chances,
    pub class: Class,
    pub gain: GainAgreement,
    pub units: Units,
}

/// Rejected draws over this share are worth a sentence.
pub(crate) const REJECTED_SHARE_TOLD: f64 = 0.10;

pub(super) fn gain_agreement(found: &Identified, signs: &RunSigns, limits: &Limits) -> GainAgreement {
    // A wheel in the air follows nothing, so the gain of such a run is too small for a reason already told.
    let Some(measured) = signs.measured_gain.filter(|_| signs.lifted_share <= limits.lifted_share) else {
        return GainAgreement::NotCompared;
    };
    let difference = measured.minus(found.expected_gain_n_per_n);
    match (difference.low > 0.0, difference.high < 0.0) {
        (true, _) => GainAgreement::MeasuredHigher,
        (_, true) => GainAgreement::MeasuredLower,
        _ if (difference.high - difference.low) / 2.0 > limits.leaning * gain_per_index(found) => {
            GainAgreement::TooWide
        }
        _ => GainAgreement::Agrees,
    }
}

/// How much the expected gain falls when b grows by 1: e is V(x_f−x_w)/P_x at b = 1 and β falls by e/L, so
/// V(x_f−x_w)/(P_x L), the mean over the draws.
fn gain_per_index(found: &Identified) -> f64 {
    let one = |draw: &Draw| {
        let (side, loads) = (&draw.side, &draw.loads);
        loads.ground_load_n * (side.front.at.x_m - side.weight_x_m) / (loads.pull_x_n * side.wheelbase_m())
    };
    found.draws.iter().map(one).sum::<f64>() / found.draws.len().max(1) as f64
}

/// The sentences of a run whose statics gave no figures.
pub(super) fn without_statics(error: &IdentifyError, signs: &RunSigns, plow: &Plow) -> Vec<String> {
    let mut sentences = vec![sentence(&error.to_string())];
    if signs.lifted_share > plow.limits.lifted_share {
        sentences.push(lifted(signs, plow));
    }
    sentences
}

/// The sentences of a run with statics.
pub(super) fn sentences(ground: &Ground) -> Vec<String> {
    let found = ground.found;
    let mut sentences = vec![index(ground), tail(ground), line_of_pull(ground)];
    if ground.class == Class::NotShown {
        sentences.insert(0, undecided(ground));
    }
    if ground.signs.lifted_share > ground.plow.limits.lifted_share {
        sentences.push(lifted(ground.signs, ground.plow));
    }
    if found.lifts_shown() {
        sentences.push(format!(
            "The soil lifts the plow (soil slope {}): the shares no longer pull it into the ground.",
            signed_interval(&found.soil_slope)
        ));
    }
    sentences.extend(gain(ground));
    sentences.push(evidence(ground));
    if found.rejected_share > REJECTED_SHARE_TOLD {
        sentences.push(format!(
            "{} of the draws within the measuring errors cannot be (a wheel would pull on the ground): \
             usual where a wheel hardly carries, else a measurement is off.",
            percent(found.rejected_share)
        ));
    }
    sentences
}

fn index(ground: &Ground) -> String {
    let (b, parts) = (&ground.found.balance_index, ground.plow.part_names());
    let meaning = match ground.class {
        Class::TooFlat | Class::LeaningFlat => format!("at +1 nothing is on the {}", parts.tail),
        Class::TooSteep | Class::LeaningSteep => format!("at -1 nothing is on the {}", parts.front),
        Class::Balanced | Class::NotShown => {
            format!(
                "0 is on the steady point, at +1 nothing is on the {}, at -1 nothing on the {}",
                parts.tail, parts.front
            )
        }
    };
    let chances = match likely(ground).as_slice() {
        [] | [_] => String::new(),
        several => format!(" Chances: {}.", several.join(", ")),
    };
    format!("Balance index {}; {meaning}.{chances}", signed_interval(b))
}

/// Classes with a chance of 5 % and more.
fn likely(ground: &Ground) -> Vec<String> {
    Class::SHOWN
        .into_iter()
        .zip(ground.chances.in_order())
        .filter(|(_, share)| *share >= 0.05)
        .map(|(class, share)| format!("{class} {}", chance(share)))
        .collect()
}

fn tail(ground: &Ground) -> String {
    let (found, units) = (ground.found, ground.units);
    let parts = ground.plow.part_names();
    format!(
        "The {} carries {}, {} of what {} and {} carry; on the steady point it would be {}.",
        parts.tail,
        units.force_interval(&found.tail_load_n),
        percent(found.tail_share.value),
        parts.front,
        parts.tail,
        percent(found.standing_tail_share)
    )
}

fn line_of_pull(ground: &Ground) -> String {
    let (e, units) = (ground.found.pull_line_offset_m, ground.units);
    if e.low > 0.0 || e.high < 0.0 {
        let (side, size) = if e.value > 0.0 { ("above", e) } else { ("below", e.scaled(-1.0)) };
        format!("The line of pull passes {} {side} the steady point.", units.height_interval(&size))
    } else {
        format!(
            "The line of pull passes the steady point within {}.",
            units.height(e.low.abs().max(e.high.abs()))
        )
    }
}

fn undecided(ground: &Ground) -> String {
    if ground.chances.stated() == Class::Balanced {
        return format!(
            "On the mean the load is balanced, but the {} lifts too often to call it that: it bobs.",
            lifted_part(ground.signs, ground.plow)
        );
    }
    let parts = ground.plow.part_names();
    let ranking = ground.found.ranking.iter().take(2);
    let widest: Vec<String> = ranking.map(|share| share.input.words(&parts)).collect();
    let mut text = "The measurements do not decide.".to_owned();
    if !widest.is_empty() {
        text.push_str(&format!(" What leaves it open: {}.", widest.join(", and ")));
    }
    text
}

fn lifted_part(signs: &RunSigns, plow: &Plow) -> &'static str {
    let parts = plow.part_names();
    if signs.front_lifted { parts.front } else { parts.tail }
}

fn lifted(signs: &RunSigns, plow: &Plow) -> String {
    format!(
        "The {} carried next to nothing for {} of the time; over {} a run cannot be balanced.",
        lifted_part(signs, plow),
        percent(signs.lifted_share),
        percent(plow.limits.lifted_share)
    )
}

fn gain(ground: &Ground) -> Option<String> {
    let measured = ground.signs.measured_gain?;
    let (ours, theirs) = (signed(measured.value), signed_interval(&ground.found.expected_gain_n_per_n));
    let more_pull = |what: &str| {
        format!(
            "When the pull grows by 1, the tail load changes by {ours}; the statics gives {theirs}. {what}"
        )
    };
    match ground.gain {
        GainAgreement::NotCompared => None,
        GainAgreement::Agrees => Some(more_pull("They agree, which supports the verdict.")),
        GainAgreement::TooWide => Some(more_pull(
            "They do not contradict each other, but the measured one is too uncertain to support the verdict.",
        )),
        GainAgreement::MeasuredLower => Some(more_pull(
            "It loses more than it should: the soil force may move with the draft (the shares carry the \
             plow), or the tail wheel's stop or linkage holds it back, or a calibration is off.",
        )),
        GainAgreement::MeasuredHigher => Some(more_pull(
            "It gains more than it should: the soil force may move with the draft (the shares draw in \
             harder), or the tail wheel's stop or linkage carries load, or a calibration is off.",
        )),
    }
}

fn evidence(ground: &Ground) -> String {
    let parts = ground.plow.part_names();
    let missing = match ground.found.measured {
        Measured::Both => {
            return "Both the front's load and the tail's were measured, so nothing about the soil was assumed."
                .to_owned();
        }
        Measured::Tail => format!("The load on the {} was not measured: it rests on", parts.front),
        Measured::Front => format!("The load on the {} was not measured: it rests on", parts.tail),
        Measured::LineOfPull => format!(
            "Neither the load on the {} nor that on the {} was measured: they rest on the inclination of the {}, on",
            parts.front, parts.tail, parts.member
        ),
    };
    let share = ground.plow.bottoms.share;
    match ground.found.evidence {
        Evidence::SharesAndGivenHeight => {
            format!("{missing} {share} shares and on the height of the soil force in the description.")
        }
        Evidence::BothLoads | Evidence::SharesAndDepth => format!(
            "{missing} {share} shares (common practice, no published figures) and on the soil acting within the \
             depth of the furrow."
        ),
    }
}

/// A message of an error as a sentence.
fn sentence(message: &str) -> String {
    let mut letters = message.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}.", letters.as_str())
}
