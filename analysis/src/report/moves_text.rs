//! What moving pins would do, as text for a terminal.

use super::words::plow::{change, clearance, price};
use crate::report::units::{Units, signed, signed_interval};
use ingest::safety::BEFORE_HANDS;
use statics::report::StaticsReport;
use statics::what_if::WhatIf;
use stats::Estimate;
use std::fmt::Write;

/// What the moves that were asked about would do; nothing if none were.
pub(super) fn what_if(out: &mut String, report: &StaticsReport, units: Units) -> std::fmt::Result {
    let Some(asked) = &report.what_if else { return Ok(()) };
    let WhatIf { now, then, clearance_left } = asked;
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
    writeln!(out, "  {}\n  {BEFORE_HANDS}", price(asked, report, units))?;
    match *clearance_left {
        Some(left) => writeln!(out, "  {}", clearance(left, units)),
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
            change(row.change, report, units),
            signed(row.balance_index),
            units.height(row.pull_line_offset.m()),
            force(row.tail_load.n()),
            force(row.front_load.n()),
            force(row.tractor_load.n())
        )?;
    }
    Ok(())
}
