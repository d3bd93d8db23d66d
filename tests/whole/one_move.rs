//! One move, wherever it is shown: every example plow, in every setting, in both unit systems, in every output.

use crate::{ANALYSED, DATE, example_plows};
use analysis::report::units::Units;
use analysis::report::words::advice::order;
use analysis::report::{
    Brief, HolesShown, map_content, run_content, statics_content, statics_text, summary_text, wall_content,
};
use hitchwright_tests::command::stdout_of;
use ingest::plow::{ChannelRole, Plow};
use ingest::quantity::Force;
use page::content::{Verdict, WhatToDo};
use statics::advice::{Expected, Step, expect, moved_to};
use statics::report::{StaticsReport, statics_report};
use statics::verdict::Class;

/// As the command has it, so that its outputs can be held against these.
const SEED: u64 = 0x57A7;

/// What stands in the plowman's half of a page has neither a column's name nor a word of the method.
fn is_plain(page: &[WhatToDo], verdict: &Verdict) {
    let mut said: Vec<&str> =
        [verdict.neighbor.as_deref(), verdict.note.as_deref()].into_iter().flatten().collect();
    said.extend(page.iter().flat_map(|one| std::iter::once(&*one.order).chain(one.expectation.as_deref())));
    for sentence in said {
        let columns = ChannelRole::ALL.iter().map(|role| role.column());
        for word in columns.chain(["draws", "grows by 1"]) {
            assert!(!sentence.contains(word), "{word}: {sentence}");
        }
    }
}

fn outputs_agree(plow: &Plow, report: &StaticsReport, setting: &str) -> Expected {
    let holes = plow.settings.get(setting).unwrap();
    let expected = expect(plow, &report.holes);
    let target = expected.move_to();
    // A page that is balanced or not shown orders no move, and one that orders a move is neither.
    if matches!(expected.class, Class::Balanced | Class::NotShown) {
        assert_eq!(target, None, "{}: {setting}", plow.name);
    }
    for units in [Units::Si, Units::Us] {
        let said = &expected;
        let sentence = &order(&said.advice[0], &plow.part_names(), units);
        for shown in [HolesShown::Nearest, HolesShown::All] {
            let text = statics_text(plow, report, said, shown, units);
            assert!(text.contains(sentence), "{text}");
            let marked = text.lines().filter(|line| line.starts_with("> ")).count();
            assert_eq!(marked, usize::from(target.is_some()), "{text}");
        }
        let page = statics_content(plow, report, said, DATE, units);
        assert_eq!(page.advice.first().map(|what| &*what.order), Some(sentence.as_str()));
        let verdict = page.verdict.unwrap();
        is_plain(&page.advice, &verdict);
        assert_eq!(&*verdict.word, said.class.label());
        let map = map_content(plow, holes, report, said, units);
        let wall = wall_content(plow, report, said, None, DATE, units).unwrap();
        assert_eq!(map.advised.is_some(), target.is_some());
        assert_eq!(wall.after.is_some(), target.is_some());
        assert_eq!(wall.what_moves.starts_with("Move: "), target.is_some(), "{}", wall.what_moves);
        let Some(to) = target else { continue };
        for (from, to) in [(&report.plow_hole, &to.plow_hole), (&report.tractor_hole, &to.tractor_hole)] {
            let moves = from != to;
            assert_eq!(sentence.contains(&format!("from hole {from} to hole {to} (")), moves, "{sentence}");
            let on_wall = &wall.what_moves;
            assert_eq!(on_wall.contains(&format!(", {from} to {to} (")), moves, "{on_wall}");
        }
    }
    expected
}

#[test]
fn every_example_plow_in_every_setting_has_one_move_in_every_output() {
    let mut met = std::collections::BTreeMap::<Step, usize>::new();
    for (_, plow) in example_plows() {
        let area_cm2 = plow.total_cut_m() * plow.bottoms.depth.m() * 1e4;
        for (name, setting) in &plow.settings {
            // From light to heavy, so that more than one class is met.
            for n_per_cm2 in [3.0, 5.0, 8.0] {
                let pull = Force::from_n(n_per_cm2 * area_cm2);
                // A plow that cannot be at this pull has no outputs at all.
                let Ok(report) = statics_report(&plow, (name, setting), pull, None, SEED) else {
                    continue;
                };
                let expected = outputs_agree(&plow, &report, name);
                *met.entry(Step::from(&expected.advice[0])).or_default() += 1;
            }
        }
    }
    for step in [Step::MovePins, Step::Stay, Step::Measure] {
        assert!(met.get(&step).is_some_and(|count| *count >= 3), "{met:?}");
    }
}

#[test]
fn the_command_prints_that_move_and_nothing_else() {
    for (file, plow) in example_plows() {
        for name in plow.settings.keys() {
            let out =
                |more: &[&str]| stdout_of([&["statics", &file, "--setting", name], more].concat()).unwrap();
            let (text, json) = (out(&[]), out(&["--json"]));
            // SI in both: what a program reads does not hang on the reader of the page.
            assert_eq!(json, out(&["--json", "--units", "us"]));
            let json: serde_json::Value = serde_json::from_str(&json).unwrap();
            let orders = text.matches("Move the ").count();
            let advice = &json["expected"]["advice"][0];
            assert_eq!(orders, usize::from(advice["step"] == "move_pins"), "{text}");
            for (end, name) in [("plow_hole", "end at the plow"), ("tractor_hole", "'s end at the ")] {
                let [now, then] = ["now", "prediction"].map(|at| advice[at][end].as_str());
                let (Some(now), Some(then)) = (now, then) else { continue };
                let ordered = text.lines().any(|line| {
                    line.contains(name) && line.contains(&format!("from hole {now} to hole {then} ("))
                });
                assert_eq!(ordered, now != then, "{text}");
            }
        }
    }
}

/// Whether a line of a brief is a figure, which the whole summary has in a column.
fn is_figure(line: &str) -> bool {
    line.starts_with("lifted time ") || line.starts_with("depth, mean ")
}

#[test]
fn a_run_has_one_move_on_terminal_and_page() {
    for analysed in &*ANALYSED {
        let (summary, plow) = (&analysed.summary, &analysed.description.plow);
        for units in [Units::Si, Units::Us] {
            let said: Vec<String> =
                summary.advice.iter().map(|advice| order(advice, &plow.part_names(), units)).collect();
            let text = summary_text(summary, plow, units);
            assert!(said.iter().all(|sentence| text.contains(sentence)), "{text}");
            let brief = Brief::of_run(summary, plow, units);
            assert!(said.iter().all(|sentence| brief.lines.contains(sentence)), "{brief:?}");
            // Fewer sentences, but none of its own: headline and lines are those of the whole, figures aside.
            let own = brief.lines.iter().filter(|line| !text.contains(*line));
            assert!(own.clone().all(|line| is_figure(line)), "{:?}", own.collect::<Vec<_>>());
            assert!(text.contains(&format!("verdict: {}", brief.headline)), "{text}");
            assert!(brief.text().lines().count() <= 12, "{}", brief.text());
            let page = run_content(analysed, units);
            is_plain(&page.advice, &page.verdict);
            assert_eq!(page.advice.iter().map(|what| what.order.to_string()).collect::<Vec<_>>(), said);
        }
        if matches!(summary.verdict.class, Class::Balanced | Class::NotShown) {
            assert_eq!(moved_to(&summary.advice), None, "{}", summary.run.id);
        }
    }
}
