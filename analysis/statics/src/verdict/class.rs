//! Classes of the verdict, and the rule by which one is stated.

use crate::draw::Draw;
use ingest::plow::Limits;
use schemars::JsonSchema;
use serde::Serialize;
use strum::{Display, IntoStaticStr};

/// What is said of a run.
#[derive(
    Clone,
    Copy,
    Debug,
    Default,
    PartialEq,
    Eq,
    Hash,
    PartialOrd,
    Ord,
    Serialize,
    JsonSchema,
    Display,
    IntoStaticStr,
)]
#[serde(rename_all = "kebab-case")]
pub enum Class {
    /// b beyond the upper limit of leaning: the load sits on the front wheels.
    #[strum(serialize = "too flat")]
    TooFlat,
    /// Between balanced and too flat.
    #[strum(serialize = "leaning flat")]
    LeaningFlat,
    /// Near the steady point.
    #[strum(serialize = "balanced")]
    Balanced,
    /// Between balanced and too steep.
    #[strum(serialize = "leaning steep")]
    LeaningSteep,
    /// b below the lower limit of leaning: the load sits on the tail wheel.
    #[strum(serialize = "too steep")]
    TooSteep,
    /// The measurements do not decide.
    #[default]
    #[strum(serialize = "not shown")]
    NotShown,
}

impl Class {
    /// The five classes that say something, from flat to steep.
    pub const SHOWN: [Self; 5] =
        [Self::TooFlat, Self::LeaningFlat, Self::Balanced, Self::LeaningSteep, Self::TooSteep];

    /// The class of a balance index that is known.
    pub fn of(balance_index: f64, limits: &Limits) -> Self {
        let size = balance_index.abs();
        match (size <= limits.balanced, size <= limits.leaning, balance_index > 0.0) {
            (true, _, _) => Self::Balanced,
            (_, true, true) => Self::LeaningFlat,
            (_, true, false) => Self::LeaningSteep,
            (_, _, true) => Self::TooFlat,
            (_, _, false) => Self::TooSteep,
        }
    }

    /// What it is called.
    pub fn label(self) -> &'static str {
        self.into()
    }

    /// How many classes apart two are; `None` where one of them says nothing.
    pub fn apart(self, other: Self) -> Option<usize> {
        let place = |class| Self::SHOWN.into_iter().position(|shown| shown == class);
        Some(place(self)?.abs_diff(place(other)?))
    }
}

/// Chance of each class by the kept draws; the five add up to 1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(extend("unit" = "1"))]
pub struct ClassProbabilities {
    /// b beyond leaning, flat.
    pub too_flat: f64,
    /// b leaning flat.
    pub leaning_flat: f64,
    /// |b| within balanced.
    pub balanced: f64,
    /// b leaning steep.
    pub leaning_steep: f64,
    /// b beyond leaning, steep.
    pub too_steep: f64,
    /// b above 0, whatever the class.
    pub flat_side: f64,
}

/// A class that is stated is at least as likely as not, or is one of two neighbours that share
/// [`NEIGHBOURHOOD_CHANCE_MIN`].
pub const CHANCE_MIN: f64 = 0.5;

/// Chance that a statement is off by no more than one class.
pub const NEIGHBOURHOOD_CHANCE_MIN: f64 = 0.95;

/// A class with this chance is named beside the stated one.
const BESIDE_CHANCE_MIN: f64 = 0.2;

/// Chance of a side from which it is shown.
pub const SIDE_CHANCE_MIN: f64 = 0.95;

impl ClassProbabilities {
    /// Counts the draws.
    pub fn of(draws: &[Draw], limits: &Limits) -> Self {
        let share = |holds: &dyn Fn(&Draw) -> bool| {
            draws.iter().filter(|draw| holds(draw)).count() as f64 / draws.len().max(1) as f64
        };
        let class = |draw: &Draw| Class::of(draw.loads.bounded_balance_index(), limits);
        let [too_flat, leaning_flat, balanced, leaning_steep, too_steep] =
            Class::SHOWN.map(|shown| share(&|draw| class(draw) == shown));
        let flat_side = share(&|draw| draw.loads.balance_index > 0.0);
        Self { too_flat, leaning_flat, balanced, leaning_steep, too_steep, flat_side }
    }

    /// In the order of [`Class::SHOWN`].
    pub fn in_order(&self) -> [f64; 5] {
        [self.too_flat, self.leaning_flat, self.balanced, self.leaning_steep, self.too_steep]
    }

    /// The likeliest class besides the one that is stated, if its chance is a fair one; nothing stands beside
    /// "not shown".
    pub fn runner_up(&self, stated: Class) -> Option<(Class, f64)> {
        let others = Class::SHOWN.into_iter().zip(self.in_order()).filter(|(class, _)| *class != stated);
        let best = others.max_by(|one, other| one.1.total_cmp(&other.1));
        best.filter(|(_, chance)| stated != Class::NotShown && *chance >= BESIDE_CHANCE_MIN)
    }

    /// The class that these chances allow to be stated.
    ///
    /// The likeliest, if it and its neighbours together have 95 % (so that at most one statement in twenty is
    /// off by more than one class: neither "balanced" for too flat nor "too flat" for balanced), and if it is
    /// at least as likely as not or shares 95 % with one neighbour alone (an index right on a limit). Failing
    /// that, the leaning class of a side that has 95 %, if it and its neighbours have 95 % too: the direction
    /// is shown, how far is not. A stricter rule, 80 % for the class itself, would make every index
    /// within a standard uncertainty of a limit "not shown", which helps nobody at the tractor.
    pub fn stated(&self) -> Class {
        let chances = self.in_order();
        // Of two as likely, the flatter.
        let by_chance = |one: &usize, other: &usize| chances[*one].total_cmp(&chances[*other]);
        let likeliest = (0..chances.len()).rev().max_by(by_chance).unwrap_or(0);
        let at = |i: usize| chances.get(i).copied().unwrap_or(0.0);
        let (own, flatter, steeper) = (chances[likeliest], at(likeliest.wrapping_sub(1)), at(likeliest + 1));
        let near = own + flatter + steeper >= NEIGHBOURHOOD_CHANCE_MIN;
        let clear = own >= CHANCE_MIN || own + flatter.max(steeper) >= NEIGHBOURHOOD_CHANCE_MIN;
        if near && clear { Class::SHOWN[likeliest] } else { self.shown_side() }
    }

    fn shown_side(&self) -> Class {
        let flat = self.too_flat + self.leaning_flat + self.balanced;
        let steep = self.balanced + self.leaning_steep + self.too_steep;
        // Where the likeliest class by far is balanced, a direction would be louder than the finding.
        let leans = self.too_flat + self.leaning_flat > self.balanced;
        let leans_steep = self.leaning_steep + self.too_steep > self.balanced;
        if self.flat_side >= SIDE_CHANCE_MIN && flat >= NEIGHBOURHOOD_CHANCE_MIN && leans {
            Class::LeaningFlat
        } else if 1.0 - self.flat_side >= SIDE_CHANCE_MIN && steep >= NEIGHBOURHOOD_CHANCE_MIN && leans_steep
        {
            Class::LeaningSteep
        } else {
            Class::NotShown
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn probabilities(chances: [f64; 5]) -> ClassProbabilities {
        let [too_flat, leaning_flat, balanced, leaning_steep, too_steep] = chances;
        let flat_side = too_flat + leaning_flat + balanced / 2.0;
        ClassProbabilities { too_flat, leaning_flat, balanced, leaning_steep, too_steep, flat_side }
    }

    fn stated(chances: [f64; 5]) -> Class {
        probabilities(chances).stated()
    }

    #[test]
    fn limits_belong_to_the_milder_class() {
        let limits = Limits::default();
        for (b, class) in [
            (1.0, Class::TooFlat),
            (0.61, Class::TooFlat),
            (0.6, Class::LeaningFlat),
            (0.26, Class::LeaningFlat),
            (0.25, Class::Balanced),
            (-0.25, Class::Balanced),
            (-0.3, Class::LeaningSteep),
            (-0.61, Class::TooSteep),
        ] {
            assert_eq!(Class::of(b, &limits), class, "{b}");
        }
    }

    #[test]
    fn a_class_is_stated_when_it_can_hardly_be_off_by_two() {
        assert_eq!(stated([0.98, 0.02, 0.0, 0.0, 0.0]), Class::TooFlat);
        assert_eq!(stated([0.6, 0.36, 0.04, 0.0, 0.0]), Class::TooFlat);
        assert_eq!(stated([0.02, 0.1, 0.78, 0.09, 0.01]), Class::Balanced);
        assert_eq!(stated([0.0, 0.49, 0.49, 0.02, 0.0]), Class::LeaningFlat);
        assert_eq!(stated([0.0, 0.0, 0.1, 0.5, 0.4]), Class::LeaningSteep);
    }

    #[test]
    fn a_side_that_is_shown_is_stated_mildly() {
        assert_eq!(stated([0.46, 0.46, 0.08, 0.0, 0.0]), Class::LeaningFlat);
        assert_eq!(stated([0.0, 0.0, 0.1, 0.44, 0.46]), Class::LeaningSteep);
    }

    /// Found on a stored run: "balanced" stood alone in large letters with a chance of 55 %.
    #[test]
    fn a_class_with_a_fair_chance_stands_beside_the_stated_one() {
        let close = probabilities([0.01, 0.44, 0.55, 0.0, 0.0]);
        assert_eq!(close.runner_up(close.stated()), Some((Class::LeaningFlat, 0.44)));
        let clear = probabilities([0.98, 0.02, 0.0, 0.0, 0.0]);
        assert_eq!(clear.runner_up(clear.stated()), None);
        assert_eq!(close.runner_up(Class::NotShown), None);
    }

    #[test]
    fn a_bold_answer_on_wide_draws_is_refused() {
        assert_eq!(
            stated([0.1, 0.2, 0.55, 0.1, 0.05]),
            Class::NotShown,
            "balanced, but 15 % beyond its ends"
        );
        assert_eq!(
            stated([0.7, 0.2, 0.06, 0.04, 0.0]),
            Class::NotShown,
            "too flat, but 10 % balanced or steep"
        );
        assert_eq!(stated([0.2, 0.2, 0.2, 0.2, 0.2]), Class::NotShown);
        assert_eq!(stated([0.0, 0.35, 0.4, 0.25, 0.0]), Class::NotShown, "three classes share it");
    }
}
