//! What moving pins would do, as text for a terminal.

use crate::report::units::{Units, probability_percent, signed, signed_interval};
use ingest::quantity::Length;
use ingest::safety::BEFORE_HANDS;
use statics::report::{STEP, StaticsReport};
use statics::sensitivity::{Change, Sensitivity};
use statics::what_if::WhatIf;
use stats::Estimate;
use std::fmt::Write;

/// What the moves that were asked about would do; nothing if none were.
pub(super) fn what_if(out: &mut String, report: &StaticsReport, units: Units) -> std::fmt::Result {
    let Some(WhatIf { now, then, clearance_left }) = &report.what_if else { return Ok(()) };
    let parts = &report.parts;
    let place = |name: &str, z_m: f64| format!("{name} ({})", units.height(z_m));
    let length = |of: &Estimate| units.height_interval(of);
    let force = |of: &Estimate| units.force_interval(of);
    writeln!(out, "\nWhat if (95 % intervals; the soil force as it is)\n  {:<22} {:<28} then", "", "now")?;
    let mut row = |name: &str, now: String, then: String| writeln!(out, "  {name:<22} {now:<28} {then}");
    row(
        &format!("{} hole", parts.puller),
        place(&now.tractor_hole, now.tractor_z.m()),
        place(&then.tractor_hole, then.tractor_z.m()),
    )?;
    row("plow hole", place(&now.plow_hole, now.plow_z.m()), place(&then.plow_hole, then.plow_z.m()))?;
    row("balance index", signed_interval(&now.balance_index), signed_interval(&then.balance_index))?;
    row("pull-line offset e", length(&now.pull_line_offset.si()), length(&then.pull_line_offset.si()))?;
    row(parts.tail, force(&now.tail_load.si()), force(&then.tail_load.si()))?;
    row(parts.front, force(&now.front_load.si()), force(&then.front_load.si()))?;
    row(
        &format!("load on the {}", parts.puller),
        force(&now.tractor_load.si()),
        force(&then.tractor_load.si()),
    )?;
    row("pull", force(&now.pull.si()), force(&then.pull.si()))?;
    let gained_n = then.tractor_load.value.n() - now.tractor_load.value.n();
    let bears = if parts.puller == "tractor" { "tractor's drive wheels" } else { parts.puller };
    writeln!(
        out,
        "  Nearer to balance than now with a chance of {}. The price: {} {} on the {bears}, {} {} on the {}.",
        probability_percent(then.better_probability),
        units.force_n(gained_n.abs()),
        if gained_n < 0.0 { "less" } else { "more" },
        units.force_n((then.tail_load.value.n() - now.tail_load.value.n()).abs()),
        if then.tail_load.value.n() < now.tail_load.value.n() { "less" } else { "more" },
        parts.tail
    )?;
    writeln!(out, "  {BEFORE_HANDS}")?;
    match clearance_left.map(Length::m) {
        Some(left_m) if left_m < 0.0 => writeln!(
            out,
            "  The hitch at the plow would be {} too low: it would drag.",
            units.height(left_m.abs())
        ),
        Some(left_m) => {
            writeln!(out, "  Under the hitch at the plow {} would be left.", units.height(left_m))
        }
        None => Ok(()),
    }
}

/// What changes with each thing.
pub(super) fn sensitivity(out: &mut String, report: &StaticsReport, units: Units) -> std::fmt::Result {
    let parts = &report.parts;
    writeln!(
        out,
        "\nWhat changes with each thing (the soil force as it was)\n  {:<36} {:>7} {:>10} {:>17} {:>17} {:>11}",
        "",
        "b",
        "e",
        parts.tail,
        parts.front,
        format!("on {}", parts.puller)
    )?;
    for row in &report.sensitivity {
        let force = |by_n: f64| {
            let size = units.force_n(by_n.abs());
            match (size.starts_with("0 "), by_n < 0.0) {
                (true, _) => size,
                (false, true) => format!("-{size}"),
                (false, false) => format!("+{size}"),
            }
        };
        writeln!(
            out,
            "  {:<36} {:>7} {:>10} {:>17} {:>17} {:>11}",
            name(row, report, units),
            signed(row.balance_index),
            units.height(row.pull_line_offset.m()),
            force(row.tail_load.n()),
            force(row.front_load.n()),
            force(row.tractor_load.n())
        )?;
    }
    Ok(())
}

fn name(row: &Sensitivity, report: &StaticsReport, units: Units) -> String {
    let step = units.height(STEP.m());
    match row.change {
        Change::TractorPin => format!("pin at the {} {step} higher", report.parts.puller),
        Change::PlowPin => format!("pin at the plow {step} higher"),
        Change::BothPins => format!("both pins {step} higher"),
        Change::LongerMember => format!("{} {} longer", report.parts.member, units.height(2.0 * STEP.m())),
        Change::WeightBack => format!("weight {step} further back"),
        Change::MoreWeight => "5 % more weight".to_owned(),
        Change::SoilDeeper => format!("soil force {step} deeper"),
        Change::DullerShares => "duller shares: soil slope +0.05".to_owned(),
        Change::MoreDraft => "10 % more draft".to_owned(),
    }
}
