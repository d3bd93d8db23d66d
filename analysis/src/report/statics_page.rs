//! A statics calculation as the content of a page.

use super::figure_rows::Kind;
use super::force_diagram::force_diagram;
use super::run_page::gauge;
use crate::advice::outside_usual_height;
use crate::page::content::{Fact, FigureRow, Foot, ForceDiagram, Head, Verdict};
use crate::page::statics_content::{HoleRow, HoleTable, StaticsContent};
use crate::statics::predict::Prediction;
use crate::statics::report::{DraftCheck, StaticsReport};
use crate::statics::text::LEANS_ON_TRACTOR;
use crate::stats::Estimate;
use crate::units_out::{Units, signed_interval};
use crate::verdict::Class;
use ingest::plow::{Limits, Plow};
use ingest::safety::{BEFORE_HANDS, CAUTIONS};
use jiff::civil::Date;

/// Pairs of holes on the page; all of them are in the text and the JSON.
const HOLES_SHOWN_MAX: usize = 18;

/// The content of the page of a statics calculation; `date` is the day it was made for.
#[must_use]
pub fn statics_content(plow: &Plow, report: &StaticsReport, date: Date, units: Units) -> StaticsContent {
    let now = report.holes.iter().find(|hole| hole.is_now);
    let fact = |name: &str, value: &str| Fact { name: name.to_owned(), value: value.to_owned() };
    StaticsContent {
        head: Head {
            title: report.setting.clone(),
            plow: plow.name.clone(),
            facts: vec![
                fact("hole at the plow", &report.plow_hole),
                fact("hole at the tractor", &report.tractor_hole),
                fact("shares", &plow.bottoms.share.to_string()),
                fact("pull", &units.force_n(report.loads.pull_n)),
            ],
            date,
        },
        verdict: Some(Verdict {
            class: now.map_or(Class::NotShown, |now| expected_class(&now.balance_index, &plow.limits)),
            note: Some("expected, not measured".to_owned()),
            reasons: vec![
                "Worked out from the description, with every figure at its middle; no run was measured."
                    .to_owned(),
            ],
        }),
        gauge: now.map(|now| gauge(&now.balance_index, plow)),
        forces: Some(statics_diagram(plow, report, units)),
        figures: figures(report, units),
        holes: hole_table(report, units),
        draft: report.draft.as_ref().map(|check| draft_rows(check, report, units)).unwrap_or_default(),
        draft_notes: vec![
            "ASABE D497.7 (R2020), moldboard plow, with the standard's range of ±40 %.".to_owned(),
        ],
        advice: advice(plow, report, units),
        cautions: cautions(report),
        foot: Foot {
            provenance: vec![concat!("hitchwright ", env!("CARGO_PKG_VERSION"), " statics").to_owned()],
            safety: CAUTIONS.iter().map(|caution| (*caution).to_owned()).collect(),
        },
    }
}

fn cautions(report: &StaticsReport) -> Vec<String> {
    let mut cautions = vec![
        "The soil's share of the load is a wide guess from the condition of the shares; a test pass narrows it."
            .to_owned(),
    ];
    if report.links.is_some() {
        cautions.push(LEANS_ON_TRACTOR.to_owned());
    }
    let pairs = report.holes.len();
    if pairs > HOLES_SHOWN_MAX {
        cautions.push(format!(
            "The table has the {HOLES_SHOWN_MAX} pairs of holes nearest to balance, and the one in use, of {pairs}."
        ));
    }
    cautions
}

/// The class of the middle, if both ends of the interval are in it or beside it: the rule of a run's verdict,
/// at most one class off.
fn expected_class(b: &Estimate, limits: &Limits) -> Class {
    let place = |index: f64| Class::SHOWN.iter().position(|class| *class == Class::of(index, limits));
    match (place(b.low), place(b.value), place(b.high)) {
        (Some(low), Some(middle), Some(high)) if low.abs_diff(middle) <= 1 && high.abs_diff(middle) <= 1 => {
            Class::of(b.value, limits)
        }
        _ => Class::NotShown,
    }
}

fn plain(name: &str, kind: Kind, inside: f64, units: Units) -> FigureRow {
    FigureRow {
        name: name.to_owned(),
        value: kind.number(inside, units),
        interval: String::new(),
        unit: kind.unit(units).to_owned(),
    }
}

fn figures(report: &StaticsReport, units: Units) -> Vec<FigureRow> {
    let loads = &report.loads;
    let (front_n, tail_n) = loads.carried_loads_n();
    vec![
        plain(report.parts.front_load, Kind::Force, front_n, units),
        plain(report.parts.tail_load, Kind::Force, tail_n, units),
        plain("pull-line offset e", Kind::SmallLength, 1000.0 * loads.pull_line_offset_m, units),
        plain("balance index b", Kind::Number, loads.bounded_balance_index(), units),
        plain("wheel load at x", Kind::Place, loads.wheel_load_at_m, units),
        plain("gain, by the statics", Kind::Number, loads.expected_gain_n_per_n, units),
    ]
}

fn hole_table(report: &StaticsReport, units: Units) -> HoleTable {
    let parts = &report.parts;
    let columns = ["plow hole", "tractor hole", "b", "95 %", parts.front_load, parts.tail_load];
    let row = |hole: &Prediction| HoleRow {
        cells: vec![
            format!("{} ({})", hole.plow_hole, units.height(hole.plow_z_m)),
            format!("{} ({})", hole.tractor_hole, units.height(hole.tractor_z_m)),
            Kind::Number.number(hole.balance_index.value, units),
            Kind::Number.interval(&hole.balance_index, units),
            units.force_n(hole.front_load_n.value),
            units.force_n(hole.tail_load_n.value),
        ],
        in_use: hole.is_now,
    };
    HoleTable { columns: columns.map(str::to_owned).to_vec(), rows: holes_shown(report).map(row).collect() }
}

/// The pair of holes that the description alone brings nearest to balance, and the nearest with the tractor's
/// hole alone.
fn advice(plow: &Plow, report: &StaticsReport, units: Units) -> Vec<String> {
    let said = |what: &str, hole: &Prediction| {
        let unusual =
            outside_usual_height(plow, hole, units).map(|said| format!(" {said}")).unwrap_or_default();
        format!(
            "{what}: hole {} ({}) at the plow, hole {} ({}) at the tractor, balance index {}.{unusual}",
            hole.plow_hole,
            units.height(hole.plow_z_m),
            hole.tractor_hole,
            units.height(hole.tractor_z_m),
            signed_interval(&hole.balance_index)
        )
    };
    let tractor_alone = report.nearest_to_balance(|hole| hole.plow_hole == report.plow_hole);
    let any = report.nearest_to_balance(|_| true);
    let mut lines = Vec::new();
    lines.extend(tractor_alone.map(|hole| said("Nearest to balance by the tractor's end alone", hole)));
    lines.extend(any.filter(|any| Some(*any) != tractor_alone).map(|hole| said("Nearest of all", hole)));
    if !lines.is_empty() {
        lines.push(BEFORE_HANDS.to_owned());
    }
    lines
}

/// The holes in use, and those that bring the balance index nearest to 0, in the order of the description.
fn holes_shown(report: &StaticsReport) -> impl Iterator<Item = &Prediction> {
    let mut distances: Vec<f64> = report.holes.iter().map(|hole| hole.balance_index.value.abs()).collect();
    distances.sort_by(f64::total_cmp);
    let farthest = distances.get(HOLES_SHOWN_MAX - 1).copied().unwrap_or(f64::INFINITY);
    report.holes.iter().filter(move |hole| hole.is_now || hole.balance_index.value.abs() <= farthest)
}

fn draft_rows(check: &DraftCheck, report: &StaticsReport, units: Units) -> Vec<FigureRow> {
    let kind = Kind::Force;
    let expected = &check.expected;
    let interval =
        format!("{} to {}", kind.number(expected.low_n, units), kind.number(expected.high_n, units));
    vec![
        FigureRow { interval, ..plain("draft, expected", kind, expected.draft_n, units) },
        plain("draft at this pull", kind, report.loads.pull_x_n, units),
    ]
}

/// The force diagram of a statics calculation.
#[must_use]
pub fn statics_diagram(plow: &Plow, report: &StaticsReport, units: Units) -> ForceDiagram {
    let links = report.links.as_ref().map(|links| &links.links);
    force_diagram(plow, &report.side, &report.loads, links, plow.bottoms.depth.m(), units)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Found on the page of the example: it named the hole at 16 in without a word.
    #[test]
    fn a_tractor_hitch_outside_the_usual_heights_is_said_to_be() {
        use crate::statics::report::statics_report;
        use crate::verdict::studies::invented_plow::{plow, setting};
        let plow = plow();
        let setting = setting("8", "3");
        let mut report = statics_report(&plow, ("x", &setting), 8_000.0, None, 1).unwrap();
        report.holes.retain(|hole| hole.plow_hole == "8" && hole.tractor_z_m > 0.39);
        let lines = advice(&plow, &report, Units::Us);
        assert!(!lines.is_empty() && lines[0].contains("outside the usual 10.0 in to 15.0 in"), "{lines:?}");
    }

    /// Found on a description without a ±: the page said "leaning flat" in large letters of a plow that might
    /// as well have been balanced or too flat by far.
    #[test]
    fn a_class_that_may_be_off_by_two_is_not_in_large_letters() {
        let limits = Limits::default();
        let class = |low, value, high| expected_class(&Estimate { value, low, high }, &limits);
        assert_eq!(class(0.56, 0.9, 1.0), Class::TooFlat);
        assert_eq!(class(0.11, 0.5, 1.0), Class::LeaningFlat);
        assert_eq!(class(-0.1, 0.7, 1.0), Class::NotShown);
        assert_eq!(class(-0.7, -0.1, 0.2), Class::NotShown);
    }
}
