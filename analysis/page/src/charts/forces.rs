//! The free body in the side view: plow, drawbar and ground to one scale of length, forces to one scale of
//! force. Travel is to the right. The line of pull and the line of the soil force meet the weight line one
//! above the other: their distance there is the pull-line offset e.

use super::canvas::{self, Canvas, Dash, GREY, INK, Ink, LABEL, Lettering, MEASURED, Mm, PALE, PAPER, Pen};
use super::canvas::{STEEL, Stand};
use super::labels::{Occupied, Placed};
use super::region::Region;
use super::side_view::{SideView, Sizes};
use super::{Size, blank_on, supports};
use crate::Result;
use crate::force_diagram::{ForceDiagram, ScaleBar};

/// Room about the drawing, mm.
const EDGE_MM: f64 = 3.0;
/// Beside the shares where they come first.
const SHARES: &str = "shares: see to these";
/// At the line of pull in holes that were asked about.
const TRIED: &str = "tried";
/// Said beside the scales where an arrow is longer than they have it.
const LENGTHENED: &str = "shortest arrows: not to scale";
/// For the scale bars at the bottom.
const BARS_MM: f64 = 4.5;
/// The longest force is drawn over this share of the height, or two ninths of the width if that is less.
const LONGEST_FORCE: f64 = 0.6;
/// A label farther than this from its place gets a leader to it, mm.
const LEADER_FROM_MM: f64 = 4.5;
const SIZES: Sizes = Sizes {
    frame: Pen(STEEL, 2.6),
    wheel: (1.1, 0.6),
    sole: (4.0, 1.8, STEEL),
    pin: (1.3, Pen(INK, 1.0)),
    hatching: (1.6, 1.4),
    ground: (Pen(GREY, 0.6), Pen(GREY, 0.8)),
    clear: (0.3, 0.4, 1.2),
    support: 0.0,
    spring: (4.5, 1.5, 0.8),
    share: (0.16, 6.0),
    shortest: 4.5,
    margin: (EDGE_MM, EDGE_MM),
};

/// Draws the diagram.
pub fn draw(diagram: Option<&ForceDiagram>, size: Size) -> Result<String> {
    canvas::picture(size, |canvas| match diagram.and_then(|d| fitted(canvas, d)) {
        Some(view) => paint(&view),
        None => blank_on(canvas, "forces: not shown"),
    })
}

fn fitted<'c, 'a>(canvas: &'c Canvas<'a>, d: &'c ForceDiagram) -> Option<SideView<'c, 'a>> {
    let mut points = d.body_points();
    points.push(d.weight_at);
    let region = Region { corner: (0.0, 0.0), far: (canvas.width_mm, canvas.height_mm - BARS_MM) };
    let longest_mm = (canvas.height_mm * LONGEST_FORCE).min(canvas.width_mm / 4.5);
    let sizes = (longest_mm, region.within(SIZES.margin), 0.2);
    SideView::of((canvas, d), (region, &SIZES), &points, sizes, |view| {
        arrows(view).into_iter().map(|(from, to, ..)| (from, to)).collect()
    })
}

fn paint(view: &SideView) -> Result {
    let mut taken = view.region.labels(view.canvas);
    let step_x = view.shares().1.last().map_or(view.at(view.d.soil_at).0, |point| point.0);
    view.ground(step_x)?;
    body(view)?;
    view.take_ground(step_x, &mut taken);
    take_body(view, &mut taken);
    let offset_at = lines(view, &mut taken)?;
    let tried_at = tried(view, &mut taken)?;
    forces(view, &mut taken)?;
    if view.d.shares_first {
        label(view, &mut taken, SHARES, (step_x, view.floor_y()), LABEL.bold().sized(9.0))?;
    }
    if let (Some(text), Some(at)) = (&view.d.offset_label, offset_at) {
        label(view, &mut taken, text, at, LABEL.bold())?;
    }
    if let Some(at) = tried_at {
        label(view, &mut taken, TRIED, at, LABEL.bold().sized(7.5))?;
    }
    names(view, &mut taken)?;
    bars(view)
}

fn body(view: &SideView) -> Result {
    let (d, canvas, steel) = (view.d, view.canvas, view.sizes.frame);
    view.frame(view.at(d.tail.contact).0)?;
    view.bottoms(if d.shares_first { INK } else { STEEL })?;
    view.supports()?;
    for member in &d.members {
        let ends = [view.at(member.0), view.at(member.1)];
        if view.links_meet() {
            canvas.line(&[ends[0], view.plow_pin()], steel)?;
            canvas.broken(&[ends[1], view.at(d.plow_hitch)], Pen(GREY, 0.6), Dash::Broken(1.6, 1.0))?;
        }
        canvas.line(&ends, Pen(PAPER, 3.4))?;
        canvas.line(&ends, Pen(INK, 1.6))?;
        ends.iter().try_for_each(|pin| supports::pin(canvas, *pin, (0.95, Pen(INK, 1.0))))?;
    }
    Ok(())
}

/// Keeps labels off the plow and the line of its weight.
fn take_body(view: &SideView, taken: &mut Occupied) {
    view.take_body(taken);
    for (plow, _) in view.d.members.iter().filter(|_| view.links_meet()) {
        taken.take_line(view.at(*plow), view.plow_pin());
    }
    view.take_bottoms(taken);
    let weight_x = view.at(view.d.weight_at).0;
    taken.take_line((weight_x, 1.0), (weight_x, view.weight_foot_y(1.0)));
}

/// Drawbar and line of pull in the holes that were asked about, with open squares at pins that are moved; gives back
/// where its name goes.
fn tried(view: &SideView, taken: &mut Occupied) -> Result<Option<Mm>> {
    let (d, canvas) = (view.d, view.canvas);
    let Some((plow, tractor)) = d.tried.map(|(plow, tractor)| (view.at(plow), view.at(tractor))) else {
        return Ok(None);
    };
    let weight_x = view.at(d.weight_at).0 - 6.0;
    let pull_y = plow.1 + (tractor.1 - plow.1) / (tractor.0 - plow.0) * (weight_x - plow.0);
    let rear = if tractor.0 > plow.0 && (0.0..=view.region.far.1).contains(&pull_y) {
        (weight_x, pull_y)
    } else {
        plow
    };
    canvas.broken(&[tractor, rear], Pen(INK, 1.0), Dash::Broken(0.9, 0.9))?;
    taken.take_line(tractor, rear);
    for (then, now) in [(plow, view.at(d.plow_hitch)), (tractor, view.at(d.tractor_hitch))] {
        if (then.0 - now.0).hypot(then.1 - now.1) > 0.5 {
            canvas.fill_box((then.0 - 0.9, then.1 - 0.9), (then.0 + 0.9, then.1 + 0.9), PAPER)?;
            canvas.frame_box((then.0 - 0.9, then.1 - 0.9), (then.0 + 0.9, then.1 + 0.9), Pen(INK, 0.9))?;
            taken.take_about(then, 1.0);
        }
    }
    Ok(Some(tractor))
}

/// The lines of action, the weight line, the steady point; gives back where e is to be written.
fn lines(view: &SideView, taken: &mut Occupied) -> Result<Option<Mm>> {
    let (d, canvas) = (view.d, view.canvas);
    let weight_x = view.at(d.weight_at).0;
    let back_x = weight_x - 6.0;
    let (hitch, tractor) = (view.at(d.plow_hitch), view.at(d.tractor_hitch));
    let pull_y = |x: f64| hitch.1 + (tractor.1 - hitch.1) / (tractor.0 - hitch.0) * (x - hitch.0);
    let drawn = |y: f64| (0.0..=view.region.far.1).contains(&y);
    let weight = [(weight_x, 1.0), (weight_x, view.weight_foot_y(1.0))];
    canvas.broken(&weight, Pen(GREY, 0.6), Dash::Broken(0.5, 0.9))?;
    let crossing = (tractor.0 > hitch.0).then(|| pull_y(weight_x)).filter(|y| drawn(*y));
    if crossing.is_some() && drawn(pull_y(back_x)) {
        canvas.broken(&[hitch, (back_x, pull_y(back_x))], Pen(INK, 0.7), Dash::Broken(2.2, 0.9))?;
        taken.take_line(hitch, (back_x, pull_y(back_x)));
    }
    let Some(steady) = d.steady.map(|p| view.at(p)).filter(|p| drawn(p.1)) else {
        return Ok(None);
    };
    let soil = view.at(d.soil_at);
    canvas.broken(&[soil, steady], Pen(MEASURED, 0.7), Dash::Broken(0.9, 0.7))?;
    taken.take_line(soil, steady);
    supports::diamond(canvas, steady, 1.25)?;
    taken.take_about(steady, 1.25);
    if let Some(y) = crossing {
        canvas.line(&[steady, (weight_x, y)], Pen(INK, 2.2))?;
        canvas.ring((weight_x, y), 1.0, Pen(INK, 0.9))?;
    }
    Ok(Some((steady.0, crossing.map_or(steady.1, |y| (y + steady.1) / 2.0))))
}

/// Start, end, name and the place that the name stands at, of every force.
fn arrows<'c>(view: &SideView<'c, '_>) -> Vec<(Mm, Mm, &'c str, Mm)> {
    let d = view.d;
    // The load is carried from below: the arrow ends at the contact. The short arrows are first: their names find the
    // nearest places.
    let loads = [(&d.tail_load, d.tail), (&d.front_load, d.front)].map(|(arrow, support)| {
        let contact = view.at(support.contact);
        let there = view.tip(contact, arrow.force);
        let foot = (2.0 * contact.0 - there.0, 2.0 * contact.1 - there.1);
        (foot, contact, arrow.label.as_str(), foot)
    });
    let others = [(&d.weight, d.weight_at, 0.1), (&d.pull, d.plow_hitch, 0.5), (&d.soil, d.soil_at, 0.6)];
    let others = others.map(|(arrow, from, along)| {
        let from = view.at(from);
        let to = view.tip(from, arrow.force);
        let label_at = (from.0 + (to.0 - from.0) * along, from.1 + (to.1 - from.1) * along);
        (from, to, arrow.label.as_str(), label_at)
    });
    loads.into_iter().chain(others).collect()
}

fn forces(view: &SideView, taken: &mut Occupied) -> Result {
    let arrows = arrows(view);
    for (from, to, ..) in &arrows {
        view.canvas.line(&[*from, *to], Pen(PAPER, 3.4))?;
        view.canvas.arrow(*from, *to, Pen(MEASURED, 1.9))?;
        taken.take_line(*from, *to);
    }
    let bold = LABEL.bold().sized(7.5);
    arrows.into_iter().try_for_each(|(_, _, text, at)| label(view, taken, text, at, bold))
}

/// Names of points: where a small picture has no room for one it is left out, as the sign at the point remains.
fn names(view: &SideView, taken: &mut Occupied) -> Result {
    let small = LABEL.sized(7.0);
    let [steady, hitches @ ..] = view.names();
    for (text, at) in [steady].into_iter().chain(hitches).flatten() {
        if let Some(placed) = taken.place_if_free(text, view.at(at), small) {
            written(view, taken, text, placed, small)?;
        }
    }
    Ok(())
}

fn label(view: &SideView, taken: &mut Occupied, text: &str, at: Mm, lettering: Lettering) -> Result {
    let placed = taken.place(text, at, lettering);
    written(view, taken, text, placed, lettering)
}

/// A label that had to go far gets a leader to what it names.
fn written(view: &SideView, taken: &mut Occupied, text: &str, placed: Placed, how: Lettering) -> Result {
    if let Some((from, to)) = placed.leader(LEADER_FROM_MM) {
        view.canvas.line(&[from, to], Pen(INK, 0.35))?;
        taken.take_line(from, to);
    }
    view.canvas.text(text, placed.at, how.standing(placed.stand))
}

fn bars(view: &SideView) -> Result {
    let canvas = view.canvas;
    let (middle, right) = (canvas.height_mm - 2.0, canvas.width_mm);
    canvas.fill_box((0.0, middle - 2.3), (right, canvas.height_mm), PAPER)?;
    canvas.line(&[(0.0, middle - 2.3), (right, middle - 2.3)], Pen(PALE, 0.6))?;
    let length = bar(canvas, &view.d.length_scale, view.mm_per_m, (2.0, middle), INK)?;
    let force = bar(canvas, &view.d.force_scale, view.mm_per_n, (length + 8.0, middle), MEASURED)?;
    if view.has_lengthened() {
        let words = LABEL.sized(6.5).standing(Stand::Right);
        let room = right - 14.0 - LABEL.width_mm("travel") - force - 3.0;
        canvas.text(LENGTHENED, (force + 3.0, middle), words.within(LENGTHENED, room))?;
    }
    canvas.arrow((right - 10.0, middle), (right - 2.0, middle), Pen(INK, 1.2))?;
    canvas.text("travel", (right - 11.0, middle), LABEL.standing(Stand::Left))
}

/// Draws a bar and gives back where its label ends.
fn bar(canvas: &Canvas, bar: &ScaleBar, scale: f64, (left, y): Mm, ink: Ink) -> Result<f64> {
    let right = left + bar.size * scale;
    // A bar that would not fit says nothing; the caller chose its size.
    if !(right > left + 0.5 && right < left + canvas.width_mm * 0.35) {
        return Ok(left);
    }
    canvas.bar((left, y), right, 1.0, Pen(ink, 1.2))?;
    let words = LABEL.standing(Stand::Right);
    canvas.text(&bar.label, (right + 1.2, y), words)?;
    Ok(right + 1.2 + words.width_mm(&bar.label))
}
