//! What is to be said of a run's draft beside the published one, and of what the speed did to it.

use crate::draft::{Outcome, RunDraft, SpeedEffectState, standard_effect};
use crate::report::units::Units;

/// What is wrong; `None` where nothing is.
pub(super) fn warning(draft: &RunDraft, units: Units) -> Option<String> {
    let class = draft.soil_class?;
    let range = draft.standard.iter().find(|range| range.soil == class)?;
    let (side, check) = match draft.outcome {
        Outcome::Below => ("below", "check the pull sensor, the depth and the soil class"),
        Outcome::Above => ("above", "check the pull sensor, the depth, the shares and the soil class"),
        Outcome::Within | Outcome::NoClass => return None,
    };
    let reaches = if range.plausible { "; its interval reaches into the range" } else { "" };
    Some(format!(
        "the specific draft, {}, is {side} what is published for {class} soil {} ({} to {}, ASABE D497.7, \
         ±40 %){reaches}: {check}",
        units.specific_draft_interval(&draft.specific_draft_n_per_cm2),
        at_speed(draft, units),
        units.specific_draft(range.low_n_per_cm2),
        units.specific_draft(range.high_n_per_cm2),
    ))
}

/// What else is to be said.
pub fn draft_remarks(draft: &RunDraft, units: Units) -> Vec<String> {
    let at_speed = at_speed(draft, units);
    let against = match (draft.outcome, draft.soil_class) {
        (Outcome::Within, Some(class)) => Some(format!(
            "specific draft within what is published for {class} soil {at_speed} (ASABE D497.7, ±40 %)"
        )),
        (Outcome::NoClass, _) => Some(plausible_for(draft, &at_speed)),
        _ => None,
    };
    against.into_iter().chain(speed_effect(draft, units)).collect()
}

fn at_speed(draft: &RunDraft, units: Units) -> String {
    let (low, high) = draft.standard_speeds_mps;
    match draft.speed_mps {
        Some(_) => format!("at {}", units.speed(low)),
        None => format!("between {} and {}, for the speed is not known", units.speed(low), units.speed(high)),
    }
}

fn plausible_for(draft: &RunDraft, at_speed: &str) -> String {
    let plausible = draft.standard.iter().filter(|range| range.plausible);
    let classes: Vec<String> = plausible.map(|range| range.soil.to_string()).collect();
    if classes.is_empty() {
        return format!(
            "the specific draft is outside what is published for any soil {at_speed} (ASABE D497.7, ±40 %)"
        );
    }
    let all = classes.len() == draft.standard.len();
    let classes = if all { "any class of".to_owned() } else { classes.join(" or ") };
    format!(
        "the specific draft would be usual for {classes} soil {at_speed} (ASABE D497.7, ±40 %); state the class with \
         --soil-class to have it checked"
    )
}

/// Whether the draft grew with the speed; nothing where that cannot be seen.
fn speed_effect(draft: &RunDraft, units: Units) -> Option<String> {
    let effect = &draft.speed_effect;
    let (slow_mps, fast_mps) = effect.speeds_mps?;
    let slope = effect.slope_n_per_cm2_per_kmh2?;
    let between = format!("between {} and {}", units.speed(slow_mps), units.speed(fast_mps));
    let of = |slope: f64| units.specific_draft(slope * ((fast_mps * 3.6).powi(2) - (slow_mps * 3.6).powi(2)));
    if effect.state != SpeedEffectState::Shown {
        return Some(format!(
            "no effect of speed on the draft is shown {between} ({} to {})",
            of(slope.low),
            of(slope.high)
        ));
    }
    let change = if slope.value > 0.0 { "grew" } else { "fell" };
    let standard = draft
        .soil_class
        .map(|class| format!("; the standard has {} for {class} soil", of(standard_effect(class))));
    Some(format!(
        "the specific draft {change} by {} ({} to {}) {between}{}; a driver who slows down in hard soil makes it look \
         smaller",
        of(slope.value.abs()),
        of(slope.low.abs().min(slope.high.abs())),
        of(slope.low.abs().max(slope.high.abs())),
        standard.unwrap_or_default()
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::draft::tests::inputs;
    use crate::draft::{DraftInputs, SpeedEffect, run_draft};
    use ingest::plow::SoilClass;
    use stats::Estimate;

    fn first(inputs: &DraftInputs<'_>, units: Units) -> String {
        draft_remarks(&run_draft(inputs).unwrap(), units).remove(0)
    }

    #[test]
    fn a_draft_outside_the_range_is_warned_of_with_the_range() {
        let with = |pull_n: f64, soil_class| {
            let inputs = DraftInputs { soil_class: Some(soil_class), ..inputs(pull_n) };
            warning(&run_draft(&inputs).unwrap(), Units::Si)
        };
        assert_eq!(with(10_000.0, SoilClass::Coarse), None);
        let much = with(15_000.0, SoilClass::Coarse).unwrap();
        assert!(much.contains("above what is published for coarse soil at 5.0 km/h"), "{much}");
        assert!(much.contains("2.10 N/cm² to 4.91 N/cm²") && !much.contains("reaches"), "{much}");
        assert!(!with(9_000.0, SoilClass::Fine).unwrap().contains("reaches"));
        let near = with(12_600.0, SoilClass::Coarse).unwrap();
        assert!(near.contains("its interval reaches into the range"), "{near}");
    }

    #[test]
    fn without_a_class_the_classes_it_would_be_usual_for_are_named() {
        let usual = first(&inputs(10_000.0), Units::Us);
        assert!(usual.contains("medium or coarse soil at 3.1 mph"), "{usual}");
        let wild = first(&inputs(100_000.0), Units::Us);
        assert!(wild.contains("outside what is published for any soil"), "{wild}");
        let no_speed = first(&DraftInputs { speed_mps: None, ..inputs(10_000.0) }, Units::Si);
        assert!(no_speed.contains("between 3.0 km/h and 10.0 km/h"), "{no_speed}");
    }

    #[test]
    fn an_effect_that_is_shown_is_told_beside_the_standards() {
        let inputs = DraftInputs { soil_class: Some(SoilClass::Medium), ..inputs(10_000.0) };
        let speed_effect = SpeedEffect {
            state: SpeedEffectState::Shown,
            windows: 24,
            speeds_mps: Some((4.5 / 3.6, 7.5 / 3.6)),
            slope_n_per_cm2_per_kmh2: Estimate::around(0.3, 0.05),
        };
        let draft = RunDraft { speed_effect, ..run_draft(&inputs).unwrap() };
        let told = draft_remarks(&draft, Units::Si).pop().unwrap();
        // C of the standard times F, over 7.5² − 4.5² = 36 (km/h)²: 0.0357 · 36 = 1.29 N/cm².
        assert!(told.contains("grew by") && told.contains("1.29 N/cm² for medium soil"), "{told}");
    }
}
