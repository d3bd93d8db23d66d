//! The top view for a terminal: its sentences, and its figures in rows.

use super::sided::sided;
use super::words::top_view::{facts, sentences, what_is_guessed};
use crate::report::units::Units;
use statics::top::report::{TopReport, Turn};
use stats::Estimate;
use std::fmt::Write;

/// A title, which may be empty, and rows of name and figure.
pub type Section = (&'static str, Vec<(&'static str, String)>);

/// The whole top view; lines end with a newline.
pub fn top_text(report: &TopReport, units: Units) -> String {
    let mut out = "\nTop view: which way the pull turns the tractor\n".to_owned();
    for sentence in sentences(report, units).into_iter().chain(facts(report, units)) {
        // Writing to a string cannot fail, so the results are dropped, here and below.
        let _ = writeln!(out, "  {sentence}");
    }
    let _ = writeln!(out, "\n  Figures of the top view (95 % intervals; at this pull)");
    for (title, rows) in figures(report, units) {
        if !title.is_empty() {
            let _ = writeln!(out, "  {title}:");
        }
        for (name, figure) in rows {
            let _ = writeln!(out, "    {name:<50} {figure}");
        }
    }
    for sentence in what_is_guessed() {
        let _ = writeln!(out, "  {sentence}");
    }
    out
}

/// All figures, in order.
pub fn figures(report: &TopReport, units: Units) -> Vec<Section> {
    let places = |figure: &Estimate| sided(figure, |m| units.height(m));
    let forces = |figure: &Estimate| sided(figure, |n| units.force_n(n));
    let degrees = |figure: &Estimate| sided(figure, |deg| format!("{deg:.1}°"));
    let mut sections: Vec<Section> = vec![(
        "",
        vec![
            (
                "center of resistance from open furrow wall",
                units.height_interval(&report.resistance_from_furrow_wall.si()) + " by the rule n*w/2 + w/4",
            ),
            ("  from the middle of the cut", places(&report.resistance_y.si())),
            ("tractor's middle, from the middle of the cut", places(&report.tractor_middle_y.si())),
            ("where the pull should pass, from tractor's middle", places(&report.target_offset.si())),
        ],
    )];
    let moved =
        report.after.as_ref().filter(|_| report.turn != Turn::NotShown && report.advised_move.m() != 0.0);
    let pins = [Some((&report.now, "as it is now")), moved.map(|after| (after, "after the move advised"))];
    for (at, when) in pins.into_iter().flatten() {
        let slip = &at.held_over_slip.si();
        sections.push((
            when,
            vec![
                ("pin, from the middle of the cut", places(&at.pin_y.si())),
                ("pin, from the tractor's middle", places(&at.pin_from_tractor_middle.si())),
                ("pull leads", degrees(&at.lead.si())),
                ("pull passes the center of gravity, from middle", places(&at.line_offset.si())),
                ("side part of the pull on the plow", forces(&at.pull_y.si())),
                ("landsides press on the furrow wall", units.force_interval(&at.landside.si())),
                ("  pulled straight ahead", units.force_interval(&at.straight_landside.si())),
                ("  friction there, part of the draft", units.force_interval(&at.friction.si())),
                ("  power it takes", units.power_interval(&at.friction_power.si())),
                if at.lead_draft.value.n() < 0.0 {
                    (
                        "lead alone takes from the draft",
                        units.force_interval(&at.lead_draft.si().scaled(-1.0)),
                    )
                } else {
                    ("lead alone adds to the draft", units.force_interval(&at.lead_draft.si()))
                },
                ("front wheels held over for", forces(&at.held_over.si())),
                (
                    "  slipping sideways by",
                    format!("{:.1}° ({:.1} to {:.1})", slip.value + 0.0, slip.low, slip.high),
                ),
                ("  power it takes", units.power_interval(&at.held_over_power.si())),
            ],
        ));
    }
    sections.push(("tractor", tractor(report, units)));
    sections
}

fn tractor(report: &TopReport, units: Units) -> Vec<(&'static str, String)> {
    let loads = &report.loads;
    let mut rows: Vec<(&str, String)> = [
        ("front axle", &loads.standing_front.si(), &loads.front_axle.si()),
        ("rear axle", &loads.standing_rear.si(), &loads.rear_axle.si()),
    ]
    .into_iter()
    .map(|(name, standing, pulling)| {
        (name, format!("{}, standing {}", units.force_interval(pulling), units.force_n(standing.value)))
    })
    .collect();
    rows.push((
        "center of gravity ahead of rear axle",
        format!(
            "{}, standing {}",
            units.height_interval(&loads.dynamic_centre.si()),
            units.height(loads.standing_centre.value.m())
        ),
    ));
    if let (Some(shift), Some(left), Some(right)) = (
        &loads.shift_y.map(|figure| figure.si()),
        &loads.left_rear.map(|figure| figure.si()),
        &loads.right_rear.map(|figure| figure.si()),
    ) {
        rows.push(("  its shift", sided(shift, |m| units.height(m))));
        rows.push(("left rear wheel", units.force_interval(left)));
        rows.push(("right rear wheel", units.force_interval(right)));
    } else {
        rows.push(("left and right rear wheel", "needs [tractor] centre_of_gravity_height".to_owned()));
    }
    rows
}
