//! The side view of the wall diagram: now, and in lines and pins after the move.

use super::pieces::{self, FORCE, NAME, PIN, PIN_CLEAR_MM, SOLE, STEADY_MM, WallLine};
use crate::Result;
use crate::charts::canvas::{Canvas, GREY, INK, Mm, PAPER, Pen, STEEL, Stand};
use crate::charts::labels::Occupied;
use crate::charts::region::Region;
use crate::charts::side_view::{SideView, Sizes};
use crate::charts::supports;
use crate::force_diagram::{Arrow, ForceDiagram, PointM};
use crate::wall_content::WallContent;

/// The longest force takes this share of the region's height, or less.
const LONGEST_FORCE: f64 = 0.42;
const SIZES: Sizes = Sizes {
    frame: pieces::BODY,
    wheel: (2.0, 1.1),
    sole: SOLE,
    pin: PIN,
    hatching: (2.4, 2.0),
    ground: (Pen(GREY, 1.0), Pen(GREY, 1.0)),
    clear: (0.4, 0.5, PIN_CLEAR_MM),
    support: 2.6,
    spring: (9.0, 3.0, 1.6),
    share: (0.16, 9.0),
    shortest: 8.0,
    // With room for lettering.
    margin: (8.0, 6.0),
};

/// The view, fitted into its region; `None` if it cannot be drawn.
pub fn fitted<'c, 'a>(
    canvas: &'c Canvas<'a>,
    content: &'c WallContent,
    region: Region,
) -> Option<SideView<'c, 'a>> {
    let shown = std::iter::once(&content.now).chain(content.after.as_ref());
    let points: Vec<PointM> = shown.flat_map(ForceDiagram::body_points).collect();
    let longest_mm = (region.height() * LONGEST_FORCE).min(region.width() / 5.0);
    let on = (canvas, &content.now);
    SideView::of(on, (region, &SIZES), &points, (longest_mm, region, 0.1), |view| {
        arrows(view).map(|(from, to, _)| (from, to)).to_vec()
    })
}

/// Start, end and force of every arrow.
fn arrows<'c>(view: &SideView<'c, '_>) -> [(Mm, Mm, &'c Arrow); 5] {
    let d = view.d;
    let starting = |at: Mm, arrow: &'c Arrow| (at, view.tip(at, arrow.force), arrow);
    let ending = |at: Mm, arrow: &'c Arrow| {
        let (x, y) = view.tip((0.0, 0.0), arrow.force);
        ((at.0 - x, at.1 - y), at, arrow)
    };
    [
        // The ground carries from below; the weight bears down from above the frame.
        ending(view.at(d.tail.contact), &d.tail_load),
        ending(view.at(d.front.contact), &d.front_load),
        ending((view.at(d.weight_at).0, view.beam_y() - 4.0), &d.weight),
        starting(view.at(d.soil_at), &d.soil),
        starting(view.at(pull_from(view)), &d.pull),
    ]
}

/// Height of the line of pull at a place along the plow, m.
fn pull_z_m(d: &ForceDiagram, x_m: f64) -> f64 {
    let slope = (d.tractor_hitch.z_m - d.plow_hitch.z_m) / (d.tractor_hitch.x_m - d.plow_hitch.x_m);
    d.plow_hitch.z_m + slope * (x_m - d.plow_hitch.x_m)
}

/// Where the pull's arrow begins: at the tractor's end, on the line of pull.
fn pull_from(view: &SideView) -> PointM {
    let d = view.d;
    if !view.links_meet() {
        return d.tractor_hitch;
    }
    let x_m = d.members.iter().map(|member| member.1.x_m).fold(d.plow_hitch.x_m, f64::max);
    PointM { x_m, z_m: pull_z_m(d, x_m) }
}

pub fn paint(view: &SideView, content: &WallContent) -> Result {
    let canvas = view.canvas;
    let mut taken = view.region.labels(canvas);
    let (half, shares) = view.shares();
    let step_x = shares.iter().map(|point| point.0).fold(f64::NEG_INFINITY, f64::max);
    travel(view, &mut taken)?;
    view.ground(step_x)?;
    body(view, shares.iter().map(|point| point.0 - half).fold(f64::INFINITY, f64::min))?;
    view.take_ground(step_x, &mut taken);
    take_body(view, &mut taken);
    let pull = |d: &ForceDiagram| (view.at(d.plow_hitch), view.at(d.tractor_hitch));
    across(view, pull(&content.now), WallLine::PullNow, &mut taken)?;
    if let Some(after) = &content.after {
        across(view, pull(after), WallLine::PullAfter, &mut taken)?;
    }
    weight_and_soil(view, &mut taken)?;
    let offsets = offsets(view, content, &mut taken)?;
    let arrows = arrows(view);
    for (from, to, _) in arrows {
        pieces::force(canvas, from, to)?;
        taken.take_line(from, to);
    }
    members(view, content.after.as_ref(), &mut taken)?;
    if let Some(steady) = view.d.steady {
        supports::diamond(canvas, view.at(steady), STEADY_MM)?;
    }
    for (from, to, arrow) in arrows {
        // A load stands on its tip, the others are named along the way.
        let share = if to.1 < from.1 - (to.0 - from.0).abs() { 0.0 } else { 0.55 };
        let at = (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
        pieces::name(canvas, &mut taken, &arrow.label, at, FORCE)?;
    }
    for (label, at) in offsets {
        pieces::name(canvas, &mut taken, &label, at, FORCE.sized(12.0))?;
    }
    let names = view.names().into_iter().rev().flatten();
    names.into_iter().try_for_each(|(text, at)| pieces::name(canvas, &mut taken, text, view.at(at), NAME))
}

/// Which way it goes, in the upper right corner.
fn travel(view: &SideView, taken: &mut Occupied) -> Result {
    let (right, y) = (view.region.far.0 - 1.0, view.region.corner.1 + 3.0);
    view.canvas.arrow((right - 16.0, y), (right, y), Pen(INK, 1.0))?;
    view.canvas.text("travel", (right - 18.0, y), NAME.standing(Stand::Left))?;
    taken.take((right - 36.0, y - 2.5), (right, y + 2.5));
    Ok(())
}

/// The uprights that links are pinned to; a drawbar is pinned to the end of the frame.
fn uprights(view: &SideView) -> Vec<[Mm; 2]> {
    let linked = view.d.members.iter().filter(|_| view.links_meet());
    linked.map(|member| view.at(member.0)).map(|pin| [pin, (pin.0, view.beam_y())]).collect()
}

/// Frame, bottoms and what carries them.
fn body(view: &SideView, rearmost_share_x: f64) -> Result {
    let canvas = view.canvas;
    view.frame(view.at(view.d.tail.contact).0.min(rearmost_share_x))?;
    view.bottoms(STEEL)?;
    uprights(view).iter().try_for_each(|upright| canvas.line(upright, pieces::BODY))?;
    view.supports()
}

/// Keeps names off the plow.
fn take_body(view: &SideView, taken: &mut Occupied) {
    view.take_body(taken);
    uprights(view).iter().for_each(|[from, to]| taken.take_line(*from, *to));
    view.take_bottoms(taken);
}

/// Drawbar, chain or links; where they would be after the move as open squares at the pins that move.
fn members(view: &SideView, after: Option<&ForceDiagram>, taken: &mut Occupied) -> Result {
    let (d, canvas) = (view.d, view.canvas);
    for (plow, tractor) in &d.members {
        let ends = [view.at(*plow), view.at(*tractor)];
        canvas.line(&ends, Pen(PAPER, 4.6))?;
        canvas.line(&ends, Pen(INK, 2.6))?;
        if view.links_meet() {
            pieces::line(canvas, &[ends[1], view.at(d.plow_hitch)], WallLine::Link)?;
        }
    }
    let pins = |d: &ForceDiagram| -> Vec<Mm> {
        d.members.iter().flat_map(|m| [m.0, m.1]).map(|p| view.at(p)).collect()
    };
    let now = pins(d);
    for at in after.map(pins).unwrap_or_default() {
        if now.iter().all(|pin| (pin.0 - at.0).hypot(pin.1 - at.1) > 0.8) {
            pieces::moved_pin(canvas, at)?;
            taken.take_about(at, PIN_CLEAR_MM);
        }
    }
    now.iter().try_for_each(|at| supports::pin(canvas, *at, PIN))
}

/// The straight line through two points, as far as it is in the view.
fn across(view: &SideView, (a, b): (Mm, Mm), line: WallLine, taken: &mut Occupied) -> Result {
    let Some((from, to)) = view.region.across(a, b) else { return Ok(()) };
    taken.take_line(from, to);
    pieces::line(view.canvas, &[from, to], line)
}

fn weight_and_soil(view: &SideView, taken: &mut Occupied) -> Result {
    let d = view.d;
    let x = view.at(d.weight_at).0;
    let weight = [(x, view.region.corner.1), (x, view.weight_foot_y(1.5))];
    pieces::line(view.canvas, &weight, WallLine::Weight)?;
    taken.take_line(weight[0], weight[1]);
    let soil = view.at(d.soil_at);
    let (x, y) = view.tip((0.0, 0.0), d.soil.force);
    across(view, (soil, (soil.0 - x, soil.1 - y)), WallLine::Soil, taken)
}

/// The bars of e, now on the weight line and after the move beside it; gives back what is written where.
fn offsets(view: &SideView, content: &WallContent, taken: &mut Occupied) -> Result<Vec<(String, Mm)>> {
    let mut written = Vec::new();
    let now = (Some(&content.now), WallLine::OffsetNow, 0.0, "now");
    let after = (content.after.as_ref(), WallLine::OffsetAfter, 3.4, content.then.head());
    for (d, line, beside, when) in [now, after] {
        let Some((d, steady)) = d.and_then(|d| d.steady.map(|steady| (d, steady))) else { continue };
        let point = |z_m: f64| {
            let at = view.at(PointM { x_m: steady.x_m, z_m });
            (at.0 + beside, at.1.clamp(view.region.corner.1, view.region.far.1))
        };
        let (from, to) = (point(steady.z_m), point(pull_z_m(d, steady.x_m)));
        pieces::line(view.canvas, &[from, to], line)?;
        taken.take_line(from, to);
        if line == WallLine::OffsetNow {
            taken.take_about(from, STEADY_MM);
        }
        if let Some(label) = &d.offset_label {
            let label = if content.after.is_some() { format!("{when} {label}") } else { label.clone() };
            written.push((label, (from.0, (from.1 + to.1) / 2.0)));
        }
    }
    Ok(written)
}
