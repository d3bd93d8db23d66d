//! The map of both heights as the content of a chart.

use super::figure_rows::FigureKind;
use crate::report::units::{Units, percent};
use ingest::plow::{Plow, Setting};
use ingest::safety::BEFORE_HANDS;
use page::chart_content::{Level, MapContent};
use statics::advice::Expected;
use statics::height_map::{DRAFT_RANGE, KEPT_SHARE, MapPoint, height_map};
use statics::report::StaticsReport;

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
