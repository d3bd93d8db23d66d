//! The report on a plow as text for a terminal.

use super::columns::{indented, row, text};
use super::words::advice::traction;
use super::words::headline::{Large, advice_lines};
use super::words::plow::{
    balance, carries_nothing, change, clearance, draft, may_not_stand, pairs_left_out, price, pull_from,
    soil_stays, would_not_stand,
};
use crate::report::units::{Units, signed, signed_interval};
use ingest::plow::{PartNames, Plow};
use ingest::quantity::Length;
use ingest::safety::BEFORE_HANDS;
use statics::advice::{Expected, expected_class, more_traction};
use statics::predict::{CANNOT_BE_MAX, Prediction};
use statics::report::{AppliedForce, ForceKind, StaticsReport};
use statics::what_if::WhatIf;

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
    let (loads, parts) = (&report.loads, &report.parts);
    let large = Large::of(plow, expected.class, &expected.advice);
    let mut lines = vec![
        format!(
            "{}, setting {} (hole {} at the plow, {} at the {}), pull {} ({})",
            report.plow,
            report.setting,
            report.plow_hole,
            report.tractor_hole,
            parts.puller,
            units.force_n(loads.pull.n()),
            pull_from(report.along)
        ),
        format!("\nexpected: {} (from the description, not measured)", large.line()),
    ];
    lines.extend(indented(large.neighbor.into_iter().chain(advice_lines(&expected.advice, plow, units))));
    let now = report.holes.iter().find(|hole| hole.is_now);
    lines.extend(indented(now.and_then(|now| may_not_stand(now, parts, units))));
    lines.push(format!(
        "\nForces on the plow, every input at its middle (x forward of {}, z above the land)",
        parts.origin
    ));
    lines.extend(indented(report.forces.iter().map(|force| {
        let (size, direction, at) =
            (size(force, units), direction(force, units), place(force, plow, report, units));
        row(&[16, -9, 0, 34], &[&name(force.kind, parts), &size, &"", &direction, &at])
    })));
    let carriers = [(loads.front_load, parts.front), (loads.tail_load, parts.tail)];
    let lifted = carriers.into_iter().filter(|(load, _)| load.n() < 0.0);
    lines.extend(indented(lifted.map(|(_, carrier)| carries_nothing(carrier))));
    lines.push(String::new());
    lines.extend(balance(report, units));
    lines.extend(report.what_if.iter().flat_map(|asked| what_if(asked, plow, report, units)));
    lines.extend(sensitivity(report, units));
    lines.extend(report.draft.as_ref().map(|check| format!("\n{}", draft(check, report, units))));
    lines.extend(holes(report, (expected, shown), units));
    let pair = more_traction(plow, expected.class, &report.holes);
    lines.extend(pair.map(|pair| format!("\n{}", traction(pair, plow, units))));
    text(lines)
}

fn hole(name: &str, height: Length, units: Units) -> String {
    format!("{name} ({})", units.given_height(height))
}

/// What the moves that were asked about would do.
fn what_if(asked: &WhatIf, plow: &Plow, report: &StaticsReport, units: Units) -> Vec<String> {
    let WhatIf { now, then, clearance_left } = asked;
    let parts = &report.parts;
    let both = |of: &dyn Fn(&Prediction) -> String| [of(now), of(then)];
    let rows = [
        (format!("{} hole", parts.puller), both(&|at| hole(&at.tractor_hole, at.tractor_z, units))),
        ("plow hole".to_owned(), both(&|at| hole(&at.plow_hole, at.plow_z, units))),
        ("expected".to_owned(), both(&|at| expected_class(&at.balance_index, plow).label().to_owned())),
        ("balance index".to_owned(), both(&|at| signed_interval(&at.balance_index))),
        ("pull-line offset e".to_owned(), both(&|at| units.height_interval(&at.pull_line_offset.si()))),
        (parts.tail.to_owned(), both(&|at| units.force_interval(&at.tail_load.si()))),
        (parts.front.to_owned(), both(&|at| units.force_interval(&at.front_load.si()))),
        (format!("load on the {}", parts.puller), both(&|at| units.force_interval(&at.tractor_load.si()))),
        ("pull".to_owned(), both(&|at| units.force_interval(&at.pull.si()))),
    ];
    let columns = [22, 28];
    let mut lines = vec![format!("\nWhat if (95 % intervals; {})", soil_stays(report, units))];
    lines.extend(indented([row(&columns, &[&"", &"now", &"then"])]));
    lines.extend(indented(rows.map(|(name, [now, then])| row(&columns, &[&name, &now, &then]))));
    lines.extend(indented(may_not_stand(then, parts, units)));
    lines.extend(indented([price(asked, report, units), BEFORE_HANDS.to_owned()]));
    lines.extend(indented(clearance_left.map(|left| clearance(left, units))));
    lines
}

/// What changes with each thing.
fn sensitivity(report: &StaticsReport, units: Units) -> Vec<String> {
    let (parts, columns) = (&report.parts, [36, -7, -10, -17, -17, -11]);
    let on_puller = format!("on {}", parts.puller);
    let head = row(&columns, &[&"", &"b", &"e", &parts.tail, &parts.front, &on_puller]);
    let force = |by_n: f64| {
        let size = units.force_n(by_n.abs());
        match (size.starts_with("0 "), by_n < 0.0) {
            (true, _) => size,
            (false, true) => format!("-{size}"),
            (false, false) => format!("+{size}"),
        }
    };
    let changes = report.sensitivity.iter().map(|of| {
        let loads = [of.tail_load, of.front_load, of.tractor_load].map(|load| force(load.n()));
        let (what, offset) = (change(of.change, report, units), units.height(of.pull_line_offset.m()));
        row(&columns, &[&what, &signed(of.balance_index), &offset, &loads[0], &loads[1], &loads[2]])
    });
    let mut lines = vec!["\nWhat changes with each thing (the soil force as it was)".to_owned()];
    lines.extend(indented(std::iter::once(head).chain(changes)));
    lines
}

fn holes(report: &StaticsReport, (expected, shown): (&Expected, HolesShown), units: Units) -> Vec<String> {
    let advised = expected.move_to();
    let rows = match shown {
        HolesShown::All => report.holes.iter().collect(),
        HolesShown::Nearest => report.nearest_to_balance(NEAREST_SHOWN, advised),
    };
    let all = report.pairs();
    let which = if shown == HolesShown::All {
        "What each pair of holes would do".to_owned()
    } else {
        format!("What the pairs of holes nearest to balance would do, of {all} (--all-holes shows all)")
    };
    let (columns, at_puller) = ([1, 16, 16, 25, 26], format!("{} hole", report.parts.puller));
    let (tail, front) = (report.parts.tail, report.parts.front);
    let mut lines = vec![
        format!(
            "\n{which}; 95 % intervals; soil by share condition and depth alone; * the setting, > the move"
        ),
        row(&columns, &[&"", &at_puller, &"plow hole", &"balance index", &tail, &front]),
    ];
    lines.extend(rows.into_iter().map(|pair| {
        let mark = match (pair.is_now, advised == Some(pair)) {
            (true, _) => "*",
            (false, true) => ">",
            (false, false) => "",
        };
        let ends = [(&pair.tractor_hole, pair.tractor_z), (&pair.plow_hole, pair.plow_z)];
        let [tractor, plow] = ends.map(|(name, height)| hole(name, height, units));
        let loads = [&pair.tail_load, &pair.front_load].map(|load| units.force_interval(&load.si()));
        let index = signed_interval(&pair.balance_index);
        row(&columns, &[&mark, &tractor, &plow, &index, &loads[0], &loads[1]])
    }));
    let left_out = pairs_left_out(report);
    if shown == HolesShown::All && left_out.is_some() {
        lines.push("Pairs to which no move leads, for the plow may not stand in them:".to_owned());
        let unsure =
            report.holes.iter().filter(|pair| pair.cannot_be_probability > CANNOT_BE_MAX).map(|pair| {
                let ends = [(&pair.tractor_hole, pair.tractor_z), (&pair.plow_hole, pair.plow_z)];
                (ends, would_not_stand(pair.cannot_be, pair.cannot_be_probability))
            });
        let never = report.no_choice.iter().map(|pair| {
            let ends = [(&pair.tractor_hole, pair.tractor_z), (&pair.plow_hole, pair.plow_z)];
            (ends, would_not_stand(Some(pair.cannot_be), pair.cannot_be_probability))
        });
        lines.extend(unsure.chain(never).map(|(ends, why)| {
            let [tractor, plow] = ends.map(|(name, height)| hole(name, height, units));
            row(&columns, &[&"", &tractor, &plow, &why])
        }));
    } else {
        lines.extend(left_out);
    }
    lines.extend(indented([BEFORE_HANDS]));
    lines
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

/// One unit for all lengths of the table; what somebody gave is as fine as it was given.
fn place(force: &AppliedForce, plow: &Plow, report: &StaticsReport, units: Units) -> String {
    let hole = plow.settings.get(&report.setting).map(|setting| setting.plow_hole.z.value);
    let (given_x, given_z) = match force.kind {
        ForceKind::Weight => (Some(plow.weight.x.value), None),
        ForceKind::Pull => (Some(plow.plow_hitch.x.value), hole),
        ForceKind::Soil => (Some(plow.bottoms.x.value), plow.bottoms.soil_force_z.map(|z| z.value)),
        ForceKind::Front => (None, None),
        ForceKind::Tail => (Some(plow.tail.x().value), None),
    };
    let as_given = |at: Length, given: Option<Length>| {
        let is_that = |given: &Length| (given.m() - at.m()).abs() < 1e-6;
        units.given_height(given.filter(is_that).unwrap_or(at))
    };
    let x = format!("x {}", as_given(force.at.x, given_x));
    match force.kind {
        ForceKind::Weight | ForceKind::Front | ForceKind::Tail => x,
        ForceKind::Pull | ForceKind::Soil => format!("{x}, z {}", as_given(force.at.z, given_z)),
    }
}
