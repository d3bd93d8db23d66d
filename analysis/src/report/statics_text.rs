//! The report on a plow as text for a terminal.

use super::words::advice::traction;
use super::words::headline::{Large, advice_lines};
use super::words::plow::{balance, carries_nothing, draft};
use crate::report::units::{Units, signed_interval};
use ingest::plow::{PartNames, Plow};
use ingest::safety::BEFORE_HANDS;
use statics::advice::Expected;
use statics::advice::traction::more_traction;
use statics::free_body::{AppliedForce, ForceKind};
use statics::predict::Prediction;
use statics::report::StaticsReport;
use std::fmt::Write;

/// Pairs of holes shown where not all are asked for, beside the one in use.
const NEAREST_SHOWN: usize = 6;

/// Which pairs of holes the text has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HolesShown {
    /// The one in use, the one advised, and the six nearest to balance.
    Nearest,
    /// All of them.
    All,
}

/// The whole report, the answer first; lines end with a newline.
pub fn statics_text(
    plow: &Plow,
    report: &StaticsReport,
    expected: &Expected,
    shown: HolesShown,
    units: Units,
) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail, so the results are dropped.
    let _ = write_all(&mut out, (plow, report), (expected, shown), units);
    out
}

fn write_all(
    out: &mut String,
    (plow, report): (&Plow, &StaticsReport),
    (expected, shown): (&Expected, HolesShown),
    units: Units,
) -> std::fmt::Result {
    let loads = &report.loads;
    writeln!(
        out,
        "{}, setting {} (hole {} at the plow, {} at the {}), pull {}",
        report.plow,
        report.setting,
        report.plow_hole,
        report.tractor_hole,
        report.parts.puller,
        units.force_n(loads.pull.n())
    )?;
    let large = Large::of(plow, expected.class, &expected.advice);
    writeln!(out, "\nexpected: {} (from the description, not measured)", large.line())?;
    if let Some(neighbor) = &large.neighbor {
        writeln!(out, "  {neighbor}")?;
    }
    for line in advice_lines(&expected.advice, plow, units) {
        writeln!(out, "  {line}")?;
    }
    writeln!(
        out,
        "\nForces on the plow, every input at its middle (x forward of {}, z above the land)",
        report.parts.origin
    )?;
    for force in &report.forces {
        writeln!(
            out,
            "  {:<16} {:>9}  {:<34} {}",
            name(force.kind, &report.parts),
            size(force, units),
            direction(force, units),
            place(force, units)
        )?;
    }
    let parts = &report.parts;
    for (load_n, carrier) in [(loads.front_load.n(), parts.front), (loads.tail_load.n(), parts.tail)] {
        if load_n < 0.0 {
            writeln!(out, "  {}", carries_nothing(carrier))?;
        }
    }
    writeln!(out)?;
    for line in balance(report, units) {
        writeln!(out, "{line}")?;
    }
    super::moves_text::what_if(out, report, units)?;
    super::moves_text::sensitivity(out, report, units)?;
    if let Some(check) = &report.draft {
        writeln!(out, "\n{}", draft(check, report, units))?;
    }
    holes(out, report, (expected, shown), units)?;
    match more_traction(plow, expected, &report.holes) {
        Some(pair) => writeln!(out, "\n{}", traction(pair, plow, units)),
        None => Ok(()),
    }
}

fn holes(
    out: &mut String,
    report: &StaticsReport,
    (expected, shown): (&Expected, HolesShown),
    units: Units,
) -> std::fmt::Result {
    let rows = match shown {
        HolesShown::All => report.holes.iter().collect(),
        HolesShown::Nearest => report.nearest_to_balance(NEAREST_SHOWN, expected.move_to()),
    };
    let which = match report.holes.len() - rows.len() {
        0 => "What each pair of holes would do".to_owned(),
        _ => format!(
            "What the pairs of holes nearest to balance would do, of {} (--all-holes shows all)",
            report.holes.len()
        ),
    };
    writeln!(
        out,
        "\n{which}; 95 % intervals; soil by share condition and depth alone; * the setting, > the move"
    )?;
    writeln!(
        out,
        "  {:<16} {:<16} {:<25} {:<26} {}",
        format!("{} hole", report.parts.puller),
        "plow hole",
        "balance index",
        report.parts.tail,
        report.parts.front
    )?;
    for row in rows {
        writeln!(out, "{}", hole_row(row, expected.move_to() == Some(row), units))?;
    }
    writeln!(out, "  {BEFORE_HANDS}")
}

fn hole_row(row: &Prediction, is_advised: bool, units: Units) -> String {
    let hole = |name: &str, z_m: f64| format!("{name} ({})", units.height(z_m));
    format!(
        "{} {:<16} {:<16} {:<25} {:<26} {}",
        match (row.is_now, is_advised) {
            (true, _) => "*",
            (false, true) => ">",
            (false, false) => " ",
        },
        hole(&row.tractor_hole, row.tractor_z.m()),
        hole(&row.plow_hole, row.plow_z.m()),
        signed_interval(&row.balance_index),
        units.force_interval(&row.tail_load.si()),
        units.force_interval(&row.front_load.si())
    )
}

fn name(kind: ForceKind, parts: &PartNames) -> &'static str {
    match kind {
        ForceKind::Weight => "weight",
        ForceKind::Pull => "pull",
        ForceKind::Soil => "soil force",
        ForceKind::Front => parts.front,
        ForceKind::Tail => parts.tail,
    }
}

/// Carriers by their load, the others by their whole size.
fn size(force: &AppliedForce, units: Units) -> String {
    match force.kind {
        ForceKind::Front | ForceKind::Tail => units.force_n(force.z.n()),
        _ => units.force_n(force.x.n().hypot(force.z.n())),
    }
}

fn direction(force: &AppliedForce, units: Units) -> String {
    let slope_deg = force.z.n().atan2(force.x.n().abs()).to_degrees();
    let tilt = format!("{:.1} deg {}", slope_deg.abs(), if slope_deg < 0.0 { "down" } else { "up" });
    match force.kind {
        ForceKind::Weight => "down".to_owned(),
        ForceKind::Pull => format!("forward, {tilt}"),
        ForceKind::Soil => format!("back, {tilt}"),
        ForceKind::Front | ForceKind::Tail => {
            if force.x.n() == 0.0 {
                return "up".to_owned();
            }
            format!("up, and {} back", units.force_n(force.x.n().abs()))
        }
    }
}

fn place(force: &AppliedForce, units: Units) -> String {
    let x = format!("x {}", units.distance(force.at.x.m()));
    match force.kind {
        ForceKind::Weight | ForceKind::Front | ForceKind::Tail => x,
        ForceKind::Pull | ForceKind::Soil => format!("{x}, z {}", units.height(force.at.z.m())),
    }
}
