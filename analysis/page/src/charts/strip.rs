//! One channel against time: every spike kept, gaps left open, lifted stretches hatched.

use super::axes::{Axis, Plot, Range, Room, Tick, round_ticks, with_unit};
use super::canvas::{self, Canvas, Dash, GREY, INK, LABEL, MEASURED, Pen, Stand};
use super::{Size, blank_on};
use crate::Result;
use crate::chart_content::Strip;
use crate::reduce;

const ROOM: Room = Room { left: 12.5, top: 3.6, right: 4.0, bottom: 3.8 };
/// Columns a millimetre: finer than the line is wide.
const COLUMNS_PER_MM: f64 = 8.0;
/// Narrowest hatched stretch that can still be seen, mm.
const NARROWEST_HATCH_MM: f64 = 0.3;

const MEAN: Dash = Dash::Broken(2.4, 1.0);
const PERCENTILE: Dash = Dash::Broken(0.6, 0.8);

/// Draws the strip.
pub fn draw(strip: Option<&Strip>, missing: &str, size: Size) -> Result<String> {
    canvas::picture(size, |canvas| match strip {
        Some(strip) => paint(canvas, strip),
        None => blank_on(canvas, missing),
    })
}

fn paint(canvas: &Canvas, strip: &Strip) -> Result {
    let times = strip.traces.iter().flat_map(|s| s.t_s.iter().copied());
    let values = strip.traces.iter().flat_map(|s| s.values.iter().copied());
    let ranges = Range::of(times).zip(Range::of(values).and_then(|range| range.with_room(0.06)));
    let Some((t, mut v)) = ranges else {
        return blank_on(canvas, &format!("{}: no readings that can be drawn", strip.name));
    };
    if strip.zero_line {
        v = v.holding(0.0);
    }
    let wanted = |mm: f64, each: f64| (mm / each).clamp(3.0, 12.0);
    // At the very left a time would stand in the corner, where the other axis has its lowest number.
    let in_corner = |tick: &Tick| tick.at - t.low < 0.01 * (t.high - t.low);
    let in_seconds = |tick: Tick| {
        let label = if in_corner(&tick) { String::new() } else { format!("{} s", tick.label) };
        Tick { label, ..tick }
    };
    let times = round_ticks(t, wanted(canvas.width_mm, 16.0)).into_iter().map(in_seconds).collect();
    let x = Axis { range: t, ticks: times, name: String::new(), reversed: false };
    let y = Axis {
        range: v,
        ticks: round_ticks(v, wanted(canvas.height_mm - 8.0, 4.0)),
        name: with_unit(&strip.name, &strip.unit),
        reversed: strip.downward,
    };
    let plot = Plot::new(canvas, ROOM, x, y)?;
    hatch(&plot, strip)?;
    if strip.zero_line {
        plot.level(0.0, Pen(INK, 0.8), Dash::Solid)?;
    }
    levels(&plot, strip)?;
    let columns = ((plot.far.0 - plot.corner.0) * COLUMNS_PER_MM).max(1.0) as usize;
    for piece in reduce::to_columns(&strip.traces, t.low, t.high, columns) {
        plot.line(&piece, Pen(MEASURED, 0.5), Dash::Solid)?;
    }
    key(&plot, strip)
}

fn hatch(plot: &Plot, strip: &Strip) -> Result {
    for &(from_s, to_s) in strip.hatched_s.iter().filter(|(from, to)| from.is_finite() && to >= from) {
        let (left, right) = (plot.x_mm(from_s).max(plot.corner.0), plot.x_mm(to_s).min(plot.far.0));
        let right = right.max(left + NARROWEST_HATCH_MM).min(plot.far.0);
        let (top, bottom) = (plot.corner.1, plot.far.1);
        if left < right {
            plot.canvas.hatch(((left, top), (right, bottom)), 0.9, Pen(GREY, 0.4))?;
            // The bar at the top shows a stretch that is too narrow for its hatching.
            plot.canvas.fill_box((left, top), (right, top + 1.0), INK)?;
        }
    }
    Ok(())
}

/// Found on a page: three lines over the readings, each on a white edge, left of the depth only dots. They lie under the
/// readings, which are thinner.
fn levels(plot: &Plot, strip: &Strip) -> Result {
    let lines = [(strip.mean, MEAN), (strip.p5, PERCENTILE), (strip.p95, PERCENTILE)];
    for (value, dash) in lines.into_iter().filter_map(|(value, dash)| Some((value?, dash))) {
        plot.level(value, Pen(INK, 0.9), dash)?;
    }
    Ok(())
}

fn key(plot: &Plot, strip: &Strip) -> Result {
    let canvas = plot.canvas;
    let middle = plot.corner.1 / 2.0;
    let mut right = plot.far.0;
    let words = LABEL.standing(Stand::Left);
    let shown = [
        (strip.p5.or(strip.p95).is_some(), "5th and 95th percentile", Some(PERCENTILE)),
        (strip.mean.is_some(), "mean", Some(MEAN)),
        (!strip.hatched_s.is_empty(), strip.hatch_name.as_str(), None),
    ];
    for (_, name, dash) in shown.into_iter().filter(|(there, ..)| *there) {
        canvas.text(name, (right, middle), words)?;
        right -= words.width_mm(name) + 1.0;
        match dash {
            Some(dash) => canvas.broken(&[(right - 7.0, middle), (right, middle)], Pen(INK, 0.9), dash)?,
            None => {
                canvas.hatch(((right - 7.0, middle - 1.1), (right, middle + 1.1)), 0.9, Pen(GREY, 0.4))?;
                canvas.fill_box((right - 7.0, middle - 1.3), (right, middle - 0.5), INK)?;
            }
        }
        right -= 10.0;
    }
    Ok(())
}
