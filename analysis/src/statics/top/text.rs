//! The top view as text for a terminal: what a plowman does about it first, the figures after.

use super::report::{AtPin, TopReport, Turn};
use crate::stats::Estimate;
use crate::units_out::{Units, chance};
use std::fmt::Write;

/// Chances from here on are told in a sentence.
const CHANCE_TOLD: f64 = 0.05;

/// Stands whatever the figures say: a tail wheel that does not carry lets the rear swing.
pub const VERTICAL_FIRST: &str = "A plow that runs toward the land is checked in the vertical plane before any \
                                  sideways move: `statics` without --top, or a run.";

/// The whole top view; lines end with a newline.
#[must_use]
pub fn text(report: &TopReport, units: Units) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail, so the results are dropped.
    let _ = sentences(&mut out, report, units);
    let _ = figures(&mut out, report, units);
    out
}

fn sentences(out: &mut String, report: &TopReport, units: Units) -> std::fmt::Result {
    writeln!(out, "\nTop view: which way the pull turns the tractor")?;
    let off = &report.now.off_target_m;
    let where_to = sideways(off, units);
    match report.turn {
        Turn::Left => writeln!(
            out,
            "  The pull passes {where_to} of where this tractor runs straight: it turns the tractor to the left, \
             toward the land, and the front wheels are held over to the right."
        )?,
        Turn::Right => writeln!(
            out,
            "  The pull passes {where_to} of where this tractor runs straight: it turns the tractor to the \
             right, toward the plowed ground, and the front wheels are held over to the left."
        )?,
        Turn::NotShown => writeln!(
            out,
            "  Not shown: the pull passes {where_to} of where this tractor runs straight, and may as well pass \
             on the other side of it."
        )?,
    }
    if report.turn == Turn::NotShown {
        writeln!(out, "  So no sideways move is advised.")?;
    } else {
        the_move(out, report, units)?;
    }
    warn_of(out, "As it is now", &report.now)?;
    if !report.pin_given {
        writeln!(
            out,
            "  The setting has no lateral_offset, so the pin is taken in the tractor's middle, {} of the middle \
             of the cut.",
            sideways(&report.now.pin_y_m, units)
        )?;
    }
    writeln!(out, "  {VERTICAL_FIRST}")
}

fn the_move(out: &mut String, report: &TopReport, units: Units) -> std::fmt::Result {
    let step = report.pin_step_m.map_or_else(String::new, |step_m| {
        let steps = (report.advised_move_m / step_m).abs().round();
        let ending = if steps == 1.0 { "" } else { "s" };
        format!(", the nearest whole step being {steps:.0} step{ending} of {}", units.height(step_m))
    });
    writeln!(
        out,
        "  Moving the pin at the tractor {} would bring it there{step}; the clevis at the plow goes with it, so \
         that the frame still runs straight. Move in parts and look at each pass.",
        to_the_side(&report.move_m, units)
    )?;
    if report.advised_move_m == 0.0 {
        return writeln!(out, "  That is less than half a step: leave the pin where it is.");
    }
    let (Some(after), Some(press), Some(draft)) =
        (&report.after, &report.landside_change_n, &report.draft_change_n)
    else {
        return writeln!(
            out,
            "  The pin cannot go so far: the pull would lead more than 45 degrees sideways, or lift the \
             tractor's front."
        );
    };
    writeln!(
        out,
        "  What that move does: the landsides press {} on the furrow wall than now, and the draft is {}, which \
         is {} at {}. Front wheels held over take {} instead of {}.",
        more_or_less(press, |change| units.force_interval(change)),
        more_or_less(draft, |change| units.force_interval(change)),
        more_or_less(&scaled(draft, report.speed_mps), |change| units.power_interval(change)),
        units.speed(report.speed_mps),
        units.power_w(after.held_over_power_w.value),
        units.power_w(report.now.held_over_power_w.value)
    )?;
    warn_of(out, "After that move", after)
}

fn warn_of(out: &mut String, when: &str, at: &AtPin) -> std::fmt::Result {
    if at.landside_off_chance >= CHANCE_TOLD {
        writeln!(
            out,
            "  {when}, by {} of the draws, the landsides leave the furrow wall: nothing then keeps the plow from \
             swinging toward the plowed ground.",
            chance(at.landside_off_chance)
        )?;
    }
    if at.front_slides_chance >= CHANCE_TOLD {
        writeln!(
            out,
            "  {when}, by {} of the draws, the front wheels cannot hold the tractor straight: they slide.",
            chance(at.front_slides_chance)
        )?;
    }
    Ok(())
}

fn figures(out: &mut String, report: &TopReport, units: Units) -> std::fmt::Result {
    let places = |figure: &Estimate| units.height_interval(figure);
    writeln!(out, "\n  Figures of the top view (95 % intervals; left +, right -; at this pull)")?;
    let row = |out: &mut String, name: &str, figure: String| writeln!(out, "    {name:<50} {figure}");
    row(
        out,
        "centre of resistance from open furrow wall",
        places(&report.resistance_from_furrow_wall_m) + " by the rule n*w/2 + w/4",
    )?;
    row(out, "  left of the middle of the cut", places(&report.resistance_y_m))?;
    row(out, "tractor's middle, left of the middle of the cut", places(&report.tractor_middle_y_m))?;
    row(out, "where the pull should pass, from tractor's middle", places(&report.target_offset_m))?;
    for (at, when) in [(Some(&report.now), "as it is now"), (report.after.as_ref(), "after the move advised")]
    {
        let Some(at) = at else { continue };
        if when != "as it is now" && (report.turn == Turn::NotShown || report.advised_move_m == 0.0) {
            continue;
        }
        writeln!(out, "  {when}:")?;
        row(out, "pin, left of the middle of the cut", places(&at.pin_y_m))?;
        row(out, "pin, left of the tractor's middle", places(&at.pin_from_tractor_middle_m))?;
        row(out, "pull leads to the left by", degrees(&at.lead_deg))?;
        row(out, "pull passes the centre of gravity, from middle", places(&at.line_offset_m))?;
        row(out, "side part of the pull on the plow", units.force_interval(&at.pull_y_n))?;
        row(out, "landsides press on the furrow wall", units.force_interval(&at.landside_n))?;
        row(out, "  friction there, part of the draft", units.force_interval(&at.friction_n))?;
        row(out, "  power it takes", units.power_interval(&at.friction_power_w))?;
        row(out, "lead alone adds to the draft", units.force_interval(&at.lead_draft_n))?;
        row(out, "front wheels held over for", units.force_interval(&at.held_over_n))?;
        row(out, "  slipping sideways by", degrees(&at.held_over_deg))?;
        row(out, "  power it takes", units.power_interval(&at.held_over_power_w))?;
    }
    let loads = &report.loads;
    writeln!(out, "  tractor:")?;
    for (name, standing, pulling) in [
        ("front axle", &loads.standing_front_n, &loads.front_axle_n),
        ("rear axle", &loads.standing_rear_n, &loads.rear_axle_n),
    ] {
        let both = format!("{}, standing {}", units.force_interval(pulling), units.force_n(standing.value));
        row(out, name, both)?;
    }
    let ahead = format!(
        "{}, standing {}",
        units.height_interval(&loads.dynamic_centre_m),
        units.height(loads.standing_centre_m.value)
    );
    row(out, "centre of gravity ahead of rear axle", ahead)?;
    if let (Some(shift), Some(left), Some(right)) =
        (&loads.shift_y_m, &loads.left_rear_n, &loads.right_rear_n)
    {
        row(out, "  its shift to the left", places(shift))?;
        row(out, "left rear wheel", units.force_interval(left))?;
        row(out, "right rear wheel", units.force_interval(right))?;
    } else {
        writeln!(
            out,
            "    How left and right wheels carry is not known without [tractor] centre_of_gravity_height."
        )?;
    }
    writeln!(
        out,
        "  The centre of resistance moves: {}.\n  Side push of the soil, friction of the landsides (unless \
         measured) and grip of the front wheels are wide guesses by choice; the intervals hold them. They do not \
         hold that the landsides are taken to press abreast of the centre of resistance: farther back they \
         press less for the same lead.",
        report.resistance_movers.join("; ")
    )
}

/// `120 mm (60 to 180) left`: a place with its side in words, turned so that the middle is not below 0.
fn sideways(figure_m: &Estimate, units: Units) -> String {
    let (figure_m, side) = towards(figure_m);
    format!("{} {side}", units.height_interval(&figure_m))
}

/// `120 mm (60 to 180) to the left`.
fn to_the_side(figure_m: &Estimate, units: Units) -> String {
    let (figure_m, side) = towards(figure_m);
    format!("{} to the {side}", units.height_interval(&figure_m))
}

fn towards(figure: &Estimate) -> (Estimate, &'static str) {
    if figure.value < 0.0 { (scaled(figure, -1.0), "right") } else { (*figure, "left") }
}

fn more_or_less(change: &Estimate, shown: impl Fn(&Estimate) -> String) -> String {
    if change.value < 0.0 {
        format!("{} less", shown(&scaled(change, -1.0)))
    } else {
        format!("{} more", shown(change))
    }
}

fn scaled(figure: &Estimate, factor: f64) -> Estimate {
    let (low, high) = (figure.low * factor, figure.high * factor);
    Estimate { value: figure.value * factor, low: low.min(high), high: low.max(high) }
}

fn degrees(figure: &Estimate) -> String {
    format!("{:.1} deg ({:.1} to {:.1})", figure.value + 0.0, figure.low, figure.high)
}
