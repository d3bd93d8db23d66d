//! Why a verdict is what it is: short plain sentences with the numbers that it rests on.

use super::entries::{rests_on, suspects};
use super::inputs::input;
use super::sentence;
use crate::report::units::{Units, percent, probability_percent, signed, signed_interval};
use ingest::plow::{PartNames, Plow, ShareCondition};
use ingest::quantity::SaidIn;
use statics::identify::SoilBasis;
use statics::inputs::MeasuredLoads;
use statics::verdict::{Class, GainAgreement, Reason, Verdict};
use stats::Estimate;

/// All reasons of a verdict, the weightiest first.
pub fn reasons(verdict: &Verdict, plow: &Plow, units: Units) -> Vec<String> {
    verdict.reasons.iter().map(|one| reason(one, verdict, &plow.part_names(), units)).collect()
}

/// Those of a verdict in brief: the balance index, and what the verdict is held back by. What only repeats a figure or
/// supports the verdict is left out.
pub fn brief_reasons(verdict: &Verdict, plow: &Plow, units: Units) -> Vec<String> {
    let told = verdict.reasons.iter().filter(|one| is_told_in_brief(one));
    told.map(|one| reason(one, verdict, &plow.part_names(), units)).collect()
}

const fn is_told_in_brief(of: &Reason) -> bool {
    match of {
        Reason::NoStatics { .. }
        | Reason::Suspects
        | Reason::Undecided { .. }
        | Reason::Bobs { .. }
        | Reason::BalanceIndex { .. }
        | Reason::SoilLifts { .. }
        | Reason::RestsOnSoil { .. }
        | Reason::ImpossibleDraws { .. }
        | Reason::Slips { .. } => true,
        Reason::TailCarries { .. } | Reason::LineOfPull { .. } | Reason::Lifted { .. } => false,
        Reason::Gain { agreement, .. } => {
            matches!(agreement, GainAgreement::MeasuredLower | GainAgreement::MeasuredHigher)
        }
    }
}

fn reason(of: &Reason, verdict: &Verdict, parts: &PartNames, units: Units) -> String {
    match of {
        Reason::NoStatics { why } => sentence(&why.said_in(units.into())),
        Reason::Suspects => suspects(&verdict.suspects, parts, units),
        Reason::Undecided { widest } if widest.is_empty() => "The measurements do not decide.".to_owned(),
        Reason::Undecided { widest } => {
            let widest: Vec<String> = widest.iter().map(|one| input(*one, parts)).collect();
            format!("The measurements do not decide. What leaves it open: {}.", widest.join(", and "))
        }
        Reason::Bobs { front } => format!(
            "On the mean the load is balanced, but the {} lifts too often to call it that: it bobs.",
            carrier(*front, parts)
        ),
        Reason::BalanceIndex { balance_index } => index(balance_index, verdict, parts),
        Reason::TailCarries { tail_load, tail_share, standing_tail_share } => format!(
            "All measurements together put {} on the {}, {} of what {} and {} carry; on the steady point it would be {}.",
            units.force_interval(&tail_load.si()),
            parts.tail,
            percent(*tail_share),
            parts.front,
            parts.tail,
            percent(*standing_tail_share)
        ),
        Reason::LineOfPull { offset } => line_of_pull(&offset.si(), units),
        Reason::Lifted { front, share, limit } => format!(
            "The {} carried next to nothing for {} of the time; over {} a run cannot be balanced.",
            carrier(*front, parts),
            percent(*share),
            percent(*limit)
        ),
        Reason::SoilLifts { soil_slope } => format!(
            "The soil lifts the plow (soil slope {}): the shares no longer pull it into the ground.",
            signed_interval(soil_slope)
        ),
        Reason::Gain { measured, expected, agreement } => format!(
            "When the pull grows by 1, the tail load changes by {}; the statics gives {}. {}",
            signed(*measured),
            signed_interval(expected),
            gain(*agreement)
        ),
        Reason::RestsOnSoil { measured, soil_basis, share } => {
            rests_on_soil(*measured, *soil_basis, *share, parts)
        }
        Reason::ImpossibleDraws { rejected_share } => format!(
            "{} of the draws within the measuring errors cannot be (a wheel would pull on the ground): usual where a \
             wheel hardly carries, else a measurement is off.",
            percent(*rejected_share)
        ),
        Reason::Slips { other_share, soil_lifts } => {
            rests_on(*other_share, verdict, *soil_lifts, parts, units)
        }
    }
}

fn carrier(front: bool, parts: &PartNames) -> &'static str {
    if front { parts.front } else { parts.tail }
}

fn index(b: &Estimate, verdict: &Verdict, parts: &PartNames) -> String {
    let meaning = match verdict.class {
        Class::TooFlat | Class::LeaningFlat => format!("at +1 nothing is on the {}", parts.tail),
        Class::TooSteep | Class::LeaningSteep => format!("at -1 nothing is on the {}", parts.front),
        Class::Balanced | Class::NotShown => format!(
            "0 is on the steady point, at +1 nothing is on the {}, at -1 nothing on the {}",
            parts.tail, parts.front
        ),
    };
    let shares = verdict.chances.iter().flat_map(|chances| Class::SHOWN.into_iter().zip(chances.in_order()));
    // Classes with a chance of 5 % and more.
    let likely: Vec<String> = shares
        .filter(|(_, share)| *share >= 0.05)
        .map(|(class, share)| format!("{class} {}", probability_percent(share)))
        .collect();
    let chances = match likely.as_slice() {
        [] | [_] => String::new(),
        several => format!(" Chances: {}.", several.join(", ")),
    };
    format!("Balance index {}; {meaning}.{chances}", signed_interval(b))
}

fn line_of_pull(e: &Estimate, units: Units) -> String {
    if e.low > 0.0 || e.high < 0.0 {
        let (side, size) = if e.value > 0.0 { ("above", *e) } else { ("below", e.scaled(-1.0)) };
        format!("The line of pull passes {} {side} the steady point.", units.height_interval(&size))
    } else {
        let within = units.height(e.low.abs().max(e.high.abs()));
        format!("The line of pull passes the steady point within {within}.")
    }
}

const fn gain(agreement: GainAgreement) -> &'static str {
    match agreement {
        GainAgreement::NotCompared => "They were not compared.",
        GainAgreement::Agrees => "They agree, which supports the verdict.",
        GainAgreement::TooWide => {
            "They do not contradict each other, but the measured one is too uncertain to support the verdict."
        }
        GainAgreement::MeasuredLower => {
            "It loses more than it should: the soil force may move with the draft (the shares carry the plow), or the \
             tail wheel's stop or linkage holds it back, or a calibration is off."
        }
        GainAgreement::MeasuredHigher => {
            "It gains more than it should: the soil force may move with the draft (the shares draw in harder), or the \
             tail wheel's stop or linkage carries load, or a calibration is off."
        }
    }
}

fn rests_on_soil(
    measured: MeasuredLoads,
    soil_basis: SoilBasis,
    share: ShareCondition,
    parts: &PartNames,
) -> String {
    let missing = match measured {
        MeasuredLoads::Both => {
            return "Both the front's load and the tail's were measured, so nothing about the soil was assumed."
                .to_owned();
        }
        MeasuredLoads::Tail => format!("The load on the {} was not measured: it rests on", parts.front),
        MeasuredLoads::Front => format!("The load on the {} was not measured: it rests on", parts.tail),
        MeasuredLoads::LineOfPull => format!(
            "Neither the load on the {} nor that on the {} was measured: they rest on the inclination of the {}, on",
            parts.front, parts.tail, parts.member
        ),
    };
    match soil_basis {
        SoilBasis::SharesAndGivenHeight => {
            format!("{missing} {share} shares and on the height of the soil force in the description.")
        }
        SoilBasis::BothLoads | SoilBasis::SharesAndDepth => format!(
            "{missing} {share} shares (common practice, no published figures) and on the soil acting within the \
             depth of the furrow."
        ),
    }
}
