//! A statics calculation as the content of a page, and its map of both heights.

use super::figure_rows::FigureKind;
use super::foot;
use super::force_diagram::{force_diagram, point};
use super::run_page::gauge;
use super::words::headline::{Large, what_to_do};
use super::words::plow::{FROM_THE_DESCRIPTION, cautions, tried_holes};
use crate::report::units::{Units, percent};
use ingest::plow::{Plow, Setting};
use ingest::safety::BEFORE_HANDS;
use jiff::civil::Date;
use page::chart_content::{Level, MapContent};
use page::content::{Fact, FigureRow, Head, HoleRow, HoleTable, StaticsContent, Verdict};
use page::force_diagram::ForceDiagram;
use statics::advice::Expected;
use statics::height_map::{DRAFT_RANGE, KEPT_SHARE, MapPoint, height_map};
use statics::predict::{PinShift, Prediction};
use statics::report::{DraftCheck, StaticsReport};
use statics::what_if::WhatIf;
use stats::Estimate;

/// Pairs of holes on the page; all of them are in the text and the JSON.
const HOLES_SHOWN_MAX: usize = 18;

/// The content of the page of a statics calculation; `date` is the day it was made for.
pub fn statics_content(
    plow: &Plow,
    report: &StaticsReport,
    expected: &Expected,
    date: Date,
    units: Units,
) -> StaticsContent {
    let now = report.holes.iter().find(|hole| hole.is_now);
    let large = Large::of(plow, expected.class, &expected.advice);
    let shares_first = large.is_shares_first();
    StaticsContent {
        head: Head {
            title: (&report.setting).into(),
            plow: (&plow.name).into(),
            facts: [
                Fact::new("hole at the plow", &report.plow_hole),
                Fact::new(format!("hole at the {}", report.parts.puller), &report.tractor_hole),
                Fact::new("shares", plow.bottoms.share.to_string()),
                Fact::new("pull", units.force_n(report.loads.pull.n())),
            ]
            .into_iter()
            .chain(
                report
                    .what_if
                    .iter()
                    .map(|asked| Fact::new("tried", tried_holes(asked, &report.parts, units))),
            )
            .collect(),
            date: Some(date),
        },
        verdict: Some(Verdict {
            subject: large.subject.into(),
            word: large.word.into(),
            look: large.look,
            neighbor: large.neighbor.map(Into::into),
            note: Some("expected, not measured".into()),
            reasons: vec![FROM_THE_DESCRIPTION].into(),
        }),
        gauge: now.map(|now| gauge(&now.balance_index, plow, shares_first)),
        forces: Some(ForceDiagram { shares_first, ..statics_diagram(plow, report, units) }),
        figures: figures(report, units),
        holes: hole_table(report, expected, units),
        draft: report.draft.as_ref().map(|check| draft_rows(check, report, units)).unwrap_or_default(),
        draft_notes: vec!["ASABE D497.7 (R2020), moldboard plow, with the standard's range of ±40 %."].into(),
        advice: what_to_do(&expected.advice, plow, units),
        cautions: cautions(report, HOLES_SHOWN_MAX, units).into(),
        foot: foot(vec![concat!("hitchwright ", env!("CARGO_PKG_VERSION"), " statics")]),
    }
}

fn plain(name: &str, kind: FigureKind, inside: f64, units: Units) -> FigureRow {
    FigureRow {
        name: name.into(),
        value: kind.number(inside, units).into(),
        interval: "".into(),
        unit: kind.unit(units).into(),
    }
}

fn figures(report: &StaticsReport, units: Units) -> Vec<FigureRow> {
    let loads = &report.loads;
    let (front, tail) = loads.carried_loads();
    let (front_n, tail_n) = (front.n(), tail.n());
    let mut rows = vec![
        plain(report.parts.front_load, FigureKind::Force, front_n, units),
        plain(report.parts.tail_load, FigureKind::Force, tail_n, units),
        plain("pull-line offset e", FigureKind::SmallLength, 1000.0 * loads.pull_line_offset.m(), units),
        plain("balance index b", FigureKind::Number, loads.bounded_balance_index(), units),
        plain("wheel load at x", FigureKind::SmallLength, 1000.0 * loads.wheel_load_at.m(), units),
        plain("gain, by the statics", FigureKind::Number, loads.expected_gain_n_per_n, units),
    ];
    rows.extend(report.what_if.iter().flat_map(|WhatIf { then, .. }| {
        let tried = |name: &str, kind: FigureKind, figure: Estimate| FigureRow {
            interval: kind.interval(&figure, units).into(),
            ..plain(&format!("tried: {name}"), kind, figure.value, units)
        };
        [
            tried(report.parts.front_load, FigureKind::Force, then.front_load.si()),
            tried(report.parts.tail_load, FigureKind::Force, then.tail_load.si()),
            tried("pull-line offset e", FigureKind::SmallLength, then.pull_line_offset.si().scaled(1000.0)),
            tried("balance index b", FigureKind::Number, then.balance_index),
            tried("pull", FigureKind::Force, then.pull.si()),
        ]
    }));
    rows
}

fn hole_table(report: &StaticsReport, expected: &Expected, units: Units) -> HoleTable {
    let parts = &report.parts;
    let at_puller = format!("{} hole", parts.puller);
    let columns = ["plow hole", &at_puller, "b", "95 %", parts.front_load, parts.tail_load];
    let row = |hole: &Prediction| HoleRow {
        cells: vec![
            format!("{} ({})", hole.plow_hole, units.given_height(hole.plow_z)),
            format!("{} ({})", hole.tractor_hole, units.given_height(hole.tractor_z)),
            FigureKind::Number.number(hole.balance_index.value, units),
            FigureKind::Number.interval(&hole.balance_index, units),
            units.force_n(hole.front_load.value.n()),
            units.force_n(hole.tail_load.value.n()),
        ]
        .into_iter()
        .map(Into::into)
        .collect(),
        in_use: hole.is_now,
    };
    let shown = report.nearest_to_balance(HOLES_SHOWN_MAX, expected.move_to());
    HoleTable { columns: columns.map(Into::into).to_vec(), rows: shown.into_iter().map(row).collect() }
}

fn draft_rows(check: &DraftCheck, report: &StaticsReport, units: Units) -> Vec<FigureRow> {
    let kind = FigureKind::Force;
    let expected = &check.expected;
    let interval =
        format!("{} to {}", kind.number(expected.low.n(), units), kind.number(expected.high.n(), units));
    vec![
        FigureRow { interval: interval.into(), ..plain("draft, expected", kind, expected.draft.n(), units) },
        plain("draft at this pull", kind, report.loads.pull_x.n(), units),
    ]
}

/// The force diagram of a statics calculation.
pub fn statics_diagram(plow: &Plow, report: &StaticsReport, units: Units) -> ForceDiagram {
    let links = report.links.as_ref().map(|links| &links.links);
    let now = force_diagram(plow, &report.side, &report.loads, links, plow.bottoms.depth.m(), units);
    let tried = report.what_if.as_ref().and_then(|WhatIf { now, then, .. }| {
        let shift = PinShift { plow: then.plow_z - now.plow_z, tractor: then.tractor_z - now.tractor_z };
        let (side, _) = report.nominal.with_pins(shift).ok()?;
        Some((point(side.plow_hitch), point(side.tractor_hitch)))
    });
    ForceDiagram { tried, ..now }
}

/// The map of a plow in a setting.
pub fn map_content(
    plow: &Plow,
    setting: &Setting,
    report: &StaticsReport,
    expected: &Expected,
    units: Units,
) -> MapContent {
    let map = height_map(plow, setting, &report.nominal);
    let kind = FigureKind::SmallLength;
    let shown = |z_m: f64| kind.value(1000.0 * z_m, units);
    let pair = |plow_z_m: f64, tractor_z_m: f64| (shown(plow_z_m), shown(tractor_z_m));
    let limits = &plow.limits;
    let level = |index: f64| {
        let above =
            |row: &Vec<Option<MapPoint>>| row.iter().map(|point| point.map(|p| p.above(index))).collect();
        Level { index, above: map.rows.iter().map(above).collect() }
    };
    let (low, high) = DRAFT_RANGE;
    MapContent {
        title: format!("{}, pull {}: {}", report.setting, units.force_n(report.loads.pull.n()), report.plow),
        unit: kind.unit(units).to_owned(),
        puller: plow.part_names().puller.to_owned(),
        x: map.plow_z.iter().map(|z| shown(z.m())).collect(),
        y: map.tractor_z.iter().map(|z| shown(z.m())).collect(),
        keeps: map
            .rows
            .iter()
            .map(|row| row.iter().map(|point| point.is_some_and(|point| point.keeps_load)).collect())
            .collect(),
        kept_words: format!(
            "both keep {} of their static load, draft {} to {}",
            percent(KEPT_SHARE),
            percent(low),
            percent(high)
        ),
        levels: [-limits.leaning, -limits.balanced, 0.0, limits.balanced, limits.leaning].map(level).to_vec(),
        holes: report.holes.iter().map(|hole| pair(hole.plow_z.m(), hole.tractor_z.m())).collect(),
        now: pair(setting.plow_hole.z.si(), setting.tractor_hole.z.si()),
        advised: expected.move_to().map(|hole| pair(hole.plow_z.m(), hole.tractor_z.m())),
        caution: BEFORE_HANDS.to_owned(),
    }
}
