//! The verdict at arm's length: the large word, of what it is said, and one sentence for the neighbor who asks.

use super::advice::orders;
use super::entries::entry_alone;
use super::some_of;
use crate::report::units::{Units, probability_percent};
use crate::summary::Summary;
use ingest::plow::{Kind, Plow};
use page::content::{VerdictLook, WhatToDo};
use statics::advice::Advice;
use statics::verdict::{Class, Verdict};
use std::borrow::Cow;

const SHARES_FIRST: &str = "shares first";
/// The same where it rests on an entry that may be wrong.
const SHARES_LOOK_WORN: &str = "shares look worn";

/// What stands in large letters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Large {
    /// What the word is said of: the drawbar; empty where it is said of the whole plow.
    pub subject: &'static str,
    /// The word.
    pub word: Cow<'static, str>,
    /// How it is drawn.
    pub look: VerdictLook,
    /// What it means, in one sentence; none where nothing is shown.
    pub neighbor: Option<String>,
}

impl Large {
    /// Of a plow with this class and this advice.
    pub fn of(plow: &Plow, class: Class, advice: &[Advice]) -> Self {
        Self::told(plow, (class, true), advice)
    }

    /// Of a run. What would fall with a usual slip of one entry is told as what it looks like.
    pub fn of_run(plow: &Plow, verdict: &Verdict, advice: &[Advice]) -> Self {
        Self::told(plow, (verdict.class, verdict.firm), advice)
    }

    /// What rests on an unusual entry is no more than what the plow looks like, and says so where the verdict stands.
    fn told(plow: &Plow, (class, firm): (Class, bool), advice: &[Advice]) -> Self {
        let doubts = plow.questions();
        let mut large = Self::by_class(plow, (class, firm && doubts.is_empty()), advice);
        if let Some(neighbor) = large.neighbor.as_mut().filter(|_| !doubts.is_empty()) {
            let entries: Vec<&str> = doubts.iter().map(|doubt| doubt.entry.as_str()).collect();
            neighbor.push_str(&format!(
                " It rests on {}, which is unusual: check before you buy or move.",
                some_of(&entries)
            ));
        }
        large
    }

    fn by_class(plow: &Plow, (class, firm): (Class, bool), advice: &[Advice]) -> Self {
        let the = if firm { "The" } else { "If the plow is as described, the" };
        let first = advice.iter().find(|one| !matches!(one, Advice::CheckFirst { .. }));
        if matches!(first, Some(Advice::SharesFirst { .. })) {
            return Self {
                subject: "",
                word: Cow::Borrowed(if firm { SHARES_FIRST } else { SHARES_LOOK_WORN }),
                look: if firm { VerdictLook::Far } else { VerdictLook::Looks },
                neighbor: Some(format!(
                    "{the} soil lifts the plow: the shares ride up instead of drawing in, and no hole cures that."
                )),
            };
        }
        let parts = plow.part_names();
        let takes = |side: &str, carrier: &str| {
            Some(format!("{the} line of pull passes too {side}, so pulling takes weight off the {carrier}."))
        };
        // An index that is usual for a plow that hangs on links is no fault, though the word names it.
        // Whether it is one, the advice has decided.
        let as_meant = class == Class::LeaningFlat && matches!(first, Some(Advice::Stay { .. }));
        let (subject, look, neighbor) = match class {
            Class::TooFlat => (said_of(plow), VerdictLook::Far, takes("high", parts.tail)),
            Class::LeaningFlat if as_meant => (
                said_of(plow),
                VerdictLook::Leaning,
                Some(format!("{the} plow leans on the tractor, as a mounted plow is meant to.")),
            ),
            Class::LeaningFlat => (said_of(plow), VerdictLook::Leaning, takes("high", parts.tail)),
            Class::TooSteep => (said_of(plow), VerdictLook::Far, takes("low", parts.front)),
            Class::LeaningSteep => (said_of(plow), VerdictLook::Leaning, takes("low", parts.front)),
            Class::Balanced => (
                "",
                VerdictLook::Good,
                Some(format!(
                    "{the} line of pull passes where it should: pulling leaves the weight where it is."
                )),
            ),
            Class::NotShown => ("", VerdictLook::Open, None),
        };
        if firm || class == Class::NotShown {
            return Self { subject, word: Cow::Borrowed(class.label()), look, neighbor };
        }
        Self { subject, word: Cow::Owned(format!("looks {class}")), look: VerdictLook::Looks, neighbor }
    }

    /// Whether the shares come before all else.
    pub fn is_shares_first(&self) -> bool {
        [SHARES_FIRST, SHARES_LOOK_WORN].contains(&&*self.word)
    }

    /// What stands beside the word: what else the class may be, and what has to be right. Beside shares another class
    /// would be taken for a second choice.
    pub fn beside(&self, verdict: &Verdict, plow: &Plow) -> Option<String> {
        let or = match verdict.runner_up() {
            _ if self.is_shares_first() => None,
            _ if verdict.contradicted => Some("description and readings contradict each other".to_owned()),
            runner_up => {
                runner_up.map(|(class, share)| format!("or {class} ({})", probability_percent(share)))
            }
        };
        let parts = plow.part_names();
        let on = verdict.if_as_described().map(|on| format!("if {} is right", entry_alone(on, &parts)));
        let told: Vec<String> = or.into_iter().chain(on).collect();
        Some(told.join("; ")).filter(|told| !told.is_empty())
    }

    /// Subject and word in one line.
    pub fn line(&self) -> String {
        format!("{} {}", self.subject, self.word).trim().to_uppercase()
    }
}

/// What a run's verdict says in large letters, in one line: `DRAWBAR LOOKS TOO FLAT`.
pub fn verdict_line(plow: &Plow, summary: &Summary) -> String {
    Large::of_run(plow, &summary.verdict, &summary.advice).line()
}

/// Advice as a page shows it.
pub fn what_to_do(advice: &[Advice], plow: &Plow, units: Units) -> Vec<WhatToDo> {
    let all = orders(advice, &plow.part_names(), units).into_iter();
    all.map(|(order, then)| WhatToDo { order: order.into(), expectation: then.map(Into::into) }).collect()
}

/// Advice as a terminal shows it, a line each.
pub fn advice_lines(advice: &[Advice], plow: &Plow, units: Units) -> impl Iterator<Item = String> {
    let all = orders(advice, &plow.part_names(), units).into_iter();
    all.flat_map(|(order, then)| std::iter::once(order).chain(then))
}

/// What is too flat or too steep.
fn said_of(plow: &Plow) -> &'static str {
    match plow.kind() {
        Kind::Trailed => "drawbar",
        Kind::Walking => "chain",
        Kind::SemiMounted | Kind::Mounted => "line of pull",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::plow;
    use crate::report::words::tests::because;
    use statics::advice::{Measure, Stay};
    use statics::verdict::ClassProbabilities;

    const MOVE: [Advice; 1] = [Advice::NoHoleHelps];
    const MEASURE: [Advice; 1] = [Advice::Measure { what: Measure::APass }];
    const STAY: [Advice; 1] = [Advice::Stay { why: Stay::Balanced, prediction: None }];
    const SHARES: [Advice; 1] = [Advice::SharesFirst { rests_on: None }];

    #[test]
    fn the_word_says_of_what_and_the_sentence_what_it_means() {
        let flat = Large::of(&plow(), Class::TooFlat, &MOVE);
        assert_eq!(flat.line(), "DRAWBAR TOO FLAT");
        assert_eq!(
            flat.neighbor.as_deref(),
            Some("The line of pull passes too high, so pulling takes weight off the tail wheel.")
        );
        let steep = Large::of(&plow(), Class::LeaningSteep, &MOVE);
        assert!(steep.neighbor.unwrap().contains("too low, so pulling takes weight off the front wheels"));
        assert_eq!(Large::of(&plow(), Class::NotShown, &MEASURE).neighbor, None);
    }

    #[test]
    fn what_is_not_firm_is_told_as_what_it_looks_like() {
        let told = |class, advice: &[Advice]| Large::told(&plow(), (class, false), advice);
        let flat = told(Class::TooFlat, &MOVE);
        assert_eq!((flat.line().as_str(), flat.look), ("DRAWBAR LOOKS TOO FLAT", VerdictLook::Looks));
        assert!(
            flat.neighbor
                .unwrap()
                .starts_with("If the plow is as described, the line of pull passes too high")
        );
        let shares = told(Class::Balanced, &SHARES);
        assert_eq!((shares.line().as_str(), shares.look), ("SHARES LOOK WORN", VerdictLook::Looks));
        assert!(shares.neighbor.unwrap().starts_with("If the plow is as described, the soil lifts"));
        let open = told(Class::NotShown, &MEASURE);
        assert_eq!((open.line().as_str(), open.look, open.neighbor), ("NOT SHOWN", VerdictLook::Open, None));
    }

    /// Found on a plow whose unusual entry had been kept with "y": DRAWBAR LEANING FLAT, and shares to be bought.
    #[test]
    fn what_rests_on_an_unusual_entry_says_so_and_is_not_bold() {
        let mut plow = plow();
        plow.bottoms.cut_width = ingest::quantity::parse_quantity("28 in").unwrap();
        let large = Large::of(&plow, Class::LeaningFlat, &MOVE);
        assert_eq!((large.line().as_str(), large.look), ("DRAWBAR LOOKS LEANING FLAT", VerdictLook::Looks));
        assert!(large.neighbor.unwrap().ends_with(
            "It rests on a width of cut of 28 in, which is unusual: check before you buy or move."
        ));
        let check =
            [Advice::CheckFirst { entries: vec!["a width of cut of 28 in".to_owned()] }, SHARES[0].clone()];
        assert_eq!(Large::of(&plow, Class::Balanced, &check).line(), "SHARES LOOK WORN");
    }

    /// Found on a run with worn shares: the word at arm's length was BALANCED.
    #[test]
    fn worn_shares_come_before_the_class() {
        let large = Large::of(&plow(), Class::Balanced, &SHARES);
        assert_eq!((large.line().as_str(), large.look), ("SHARES FIRST", VerdictLook::Far));
        // Not "or leaning flat (39 %)": that would be taken for a second choice.
        let open = Verdict {
            class: Class::Balanced,
            chances: Some(ClassProbabilities {
                too_flat: 0.0,
                leaning_flat: 0.39,
                balanced: 0.61,
                leaning_steep: 0.0,
                too_steep: 0.0,
                flat_side: 0.9,
            }),
            firm: true,
            ..because(Vec::new(), Vec::new())
        };
        assert_eq!(large.beside(&open, &plow()), None);
        let contradicted =
            Verdict { class: Class::NotShown, chances: None, contradicted: true, ..open.clone() };
        let word = Large::of_run(&plow(), &contradicted, &MEASURE);
        assert!(word.beside(&contradicted, &plow()).unwrap().contains("contradict each other"));
        let class = Large::of(&plow(), Class::Balanced, &STAY);
        assert!(class.beside(&open, &plow()).unwrap().contains("leaning flat"));
    }
}
