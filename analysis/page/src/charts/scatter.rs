//! Tail load against pull: readings as dots, the slope measured in them, and the slopes that statics expects
//! for a flat, a balanced and a steep drawbar.

use super::axes::{Axis, Plot, Range, Room, round_ticks, with_unit};
use super::canvas::{self, Canvas, Dash, INK, LABEL, MEASURED, PAPER, Pen, RULE_BAND, Stand};
use super::{Size, blank_on};
use crate::Result;
use crate::chart_content::{LineLook, Scatter, SlopeLine};

const ROOM: Room = Room { left: 13.0, top: 4.2, right: 4.0, bottom: 7.4 };
/// More dots than this make a blot.
const MOST_DOTS: usize = 700;

/// Draws the scatter.
pub fn draw(scatter: Option<&Scatter>, size: Size) -> Result<String> {
    canvas::picture(size, |canvas| match scatter {
        Some(scatter) => paint(canvas, scatter),
        None => blank_on(canvas, "tail load against pull: not shown"),
    })
}

fn paint(canvas: &Canvas, s: &Scatter) -> Result {
    let finite: Vec<(f64, f64)> =
        s.points.iter().copied().filter(|(x, y)| x.is_finite() && y.is_finite()).collect();
    let range = |values: &mut dyn Iterator<Item = f64>| Range::of(values).and_then(|r| r.with_room(0.05));
    let ranges = range(&mut finite.iter().map(|p| p.0)).zip(range(&mut finite.iter().map(|p| p.1)));
    let Some((x, y)) = ranges else {
        return blank_on(canvas, "tail load against pull: no readings that can be drawn");
    };
    let axis = |range, wanted, name| Axis { range, ticks: round_ticks(range, wanted), name, reversed: false };
    let plot = Plot::new(
        canvas,
        ROOM,
        axis(x, canvas.width_mm / 16.0, with_unit(&s.x, &s.unit)),
        axis(y, (canvas.height_mm - 10.0) / 5.0, with_unit(&s.y, &s.unit)),
    )?;
    for point in finite.iter().step_by(finite.len().div_ceil(MOST_DOTS).max(1)) {
        canvas.disc(plot.inside(*point), 0.28, MEASURED)?;
    }
    for line in s.expected.iter().chain(&s.measured).filter(|line| drawable(line)) {
        let (pen, dash) = look(line.look);
        plot.slope(line.through, line.slope, Pen(PAPER, pen.1 + 1.2), Dash::Solid)?;
        plot.slope(line.through, line.slope, pen, dash)?;
    }
    key(&plot, s)
}

fn drawable(line: &SlopeLine) -> bool {
    line.slope.is_finite() && line.through.0.is_finite() && line.through.1.is_finite()
}

fn look(look: LineLook) -> (Pen, Dash) {
    match look {
        LineLook::Flat => (Pen(INK, 1.0), Dash::Broken(3.0, 1.2)),
        LineLook::Balanced => (Pen(INK, 1.0), Dash::Solid),
        LineLook::Steep => (Pen(INK, 1.1), Dash::Broken(0.6, 0.8)),
        LineLook::Measured => (Pen(MEASURED, 2.6), Dash::Solid),
    }
}

fn key(plot: &Plot, s: &Scatter) -> Result {
    let canvas = plot.canvas;
    let middle = 1.7;
    let mut left = plot.corner.0;
    let lines = || s.expected.iter().chain(&s.measured).filter(|line| drawable(line)).take(5);
    let named: f64 = lines().map(|line| LABEL.width_mm(&line.label) + 8.0).sum();
    let wide = named + LABEL.width_mm("statics:") + 1.0;
    let share = ((canvas.width_mm - left) / wide).min(1.0);
    let words = LABEL.standing(Stand::Right).sized(LABEL.size_pt * share);
    if !s.expected.is_empty() {
        canvas.text("statics:", (left, middle), words)?;
        left += words.width_mm("statics:") + 1.0;
    }
    for line in lines() {
        let (pen, dash) = look(line.look);
        let swatch = 5.4 * share;
        if line.look == LineLook::Measured {
            canvas.fill_box((left, middle - 1.2), (left + swatch, middle + 1.2), RULE_BAND)?;
        }
        canvas.broken(&[(left, middle), (left + swatch, middle)], pen, dash)?;
        canvas.text(&line.label, (left + swatch + 0.8, middle), words)?;
        left += swatch + 0.8 + words.width_mm(&line.label) + 1.4 * share;
    }
    Ok(())
}
