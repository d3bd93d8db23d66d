//! One figure in the runs of two settings: a dot a run on a common scale, A above (rings), B below (solid), a
//! stroke at each mean. Small enough to stand in a table row.

use super::axes::{Range, round_ticks};
use super::canvas::{self, Canvas, GREY, INK, LABEL, PALE, PAPER, Pen, Stand};
use super::{Size, blank_on};
use crate::Result;

/// Room for the letters A and B.
const LEFT_MM: f64 = 4.0;
const RIGHT_MM: f64 = 4.0;
/// More dots than this cover one another; every run is then still in the mean.
const MOST_DOTS: usize = 60;

/// Draws the dots of both settings.
pub fn draw(runs_a: &[f64], runs_b: &[f64], size: Size) -> Result<String> {
    canvas::picture(size, |canvas| paint(canvas, runs_a, runs_b))
}

fn paint(canvas: &Canvas, runs_a: &[f64], runs_b: &[f64]) -> Result {
    let range = Range::of(runs_a.iter().chain(runs_b).copied()).and_then(|range| range.with_room(0.08));
    let Some(range) = range else {
        return blank_on(canvas, "no runs that can be drawn");
    };
    let (height, right) = (canvas.height_mm, canvas.width_mm - RIGHT_MM);
    let x = |v: f64| LEFT_MM + (v - range.low) / (range.high - range.low) * (right - LEFT_MM);
    let ground = height - 3.5;
    for tick in round_ticks(range, 4.5) {
        canvas.line(&[(x(tick.at), 0.2), (x(tick.at), ground)], Pen(PALE, 0.4))?;
        canvas.text(&tick.label, (x(tick.at), height - 1.7), LABEL.sized(6.0))?;
    }
    canvas.line(&[(LEFT_MM, ground), (right, ground)], Pen(GREY, 0.5))?;
    for (name, runs, middle, solid) in
        [("A", runs_a, ground * 0.27, false), ("B", runs_b, ground * 0.73, true)]
    {
        canvas.text(name, (0.2, middle), LABEL.bold().standing(Stand::Right))?;
        let finite: Vec<f64> = runs.iter().copied().filter(|v| v.is_finite()).collect();
        if finite.is_empty() {
            continue;
        }
        let mean = finite.iter().sum::<f64>() / finite.len() as f64;
        for &value in finite.iter().take(MOST_DOTS) {
            canvas.disc((x(value), middle), 0.95, if solid { INK } else { PAPER })?;
            canvas.ring((x(value), middle), 0.95, Pen(INK, 0.7))?;
        }
        canvas.line(&[(x(mean), middle - 2.0), (x(mean), middle + 2.0)], Pen(PAPER, 2.4))?;
        canvas.line(&[(x(mean), middle - 2.0), (x(mean), middle + 2.0)], Pen(INK, 1.3))?;
    }
    Ok(())
}
