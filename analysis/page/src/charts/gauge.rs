//! The balance gauge: a beam between the tail wheel (left, b = −1) and the front wheels (right, b = +1),
//! because that is what b says: where along the plow the ground carries it. The pointer stands at b, the bar
//! is its interval.

use super::canvas::{self, Canvas, GREY, INK, LABEL, PAPER, Pen, Stand, WASH};
use super::{Size, blank_on};
use crate::Result;
use crate::chart_content::Gauge;

/// The scale goes a little beyond the two ends, where a wheel is off the ground.
const END: f64 = 1.2;
const SIDE_MM: f64 = 3.0;
/// Middle of the words, and upper edge of the bands below them, from the top.
const WORDS_MM: f64 = 2.2;
const BAND_TOP_MM: f64 = 5.0;
/// Instead of the names of the bands, where the index is no guide to the hitch.
const SET_ASIDE: &str = "no guide to the hitch until the shares draw in again";

/// Draws the gauge.
pub fn draw(gauge: Option<&Gauge>, size: Size) -> Result<String> {
    canvas::picture(size, |canvas| match gauge {
        Some(gauge) if drawable(gauge) => paint(canvas, gauge),
        _ => blank_on(canvas, "balance index: not shown"),
    })
}

fn drawable(gauge: &Gauge) -> bool {
    let limits = 0.0 < gauge.balanced && gauge.balanced < gauge.leaning && gauge.leaning < 1.0;
    limits && gauge.value.is_finite() && gauge.low <= gauge.value && gauge.value <= gauge.high
}

/// Lower edge of the bands, mm from the top.
fn band_bottom(canvas: &Canvas) -> f64 {
    canvas.height_mm - 10.0
}

fn paint(canvas: &Canvas, gauge: &Gauge) -> Result {
    let usable = canvas.width_mm - 2.0 * SIDE_MM;
    let x = |b: f64| SIDE_MM + (b.clamp(-END, END) + END) / (2.0 * END) * usable;
    paint_bands(canvas, gauge, &x)?;
    paint_ends(canvas, gauge, &x)?;
    paint_pointer(canvas, gauge, &x)
}

fn paint_bands(canvas: &Canvas, g: &Gauge, x: &impl Fn(f64) -> f64) -> Result {
    let (top, bottom) = (BAND_TOP_MM, band_bottom(canvas));
    canvas.fill_box((x(-END), top), (x(END), bottom), PAPER)?;
    if g.set_aside {
        canvas.frame_box((x(-END), top), (x(END), bottom), Pen(INK, 0.9))?;
        let words = LABEL.bold().sized(8.0).within(SET_ASIDE, x(END) - x(-END));
        return canvas.text(SET_ASIDE, (x(0.0), WORDS_MM), words);
    }
    for side in [-1.0, 1.0] {
        let (inner, outer) = (x(side * g.leaning), x(side * END));
        canvas.hatch(((inner.min(outer), top), (inner.max(outer), bottom)), 1.1, Pen(GREY, 0.45))?;
        let (inner, outer) = (x(side * g.balanced), x(side * g.leaning));
        canvas.fill_box((inner.min(outer), top), (inner.max(outer), bottom), WASH)?;
    }
    for edge in [-g.leaning, -g.balanced, g.balanced, g.leaning] {
        canvas.line(&[(x(edge), top - 1.0), (x(edge), bottom)], Pen(INK, 0.6))?;
    }
    canvas.frame_box((x(-END), top), (x(END), bottom), Pen(INK, 0.9))?;
    let middle = (g.balanced + g.leaning) / 2.0;
    let outside = (g.leaning + END) / 2.0;
    let band = (x(END) - x(g.leaning)).min(x(g.balanced) - x(-g.balanced)) - 1.0;
    let words = LABEL.bold().sized(8.0).within("too steep", band);
    for (b, word) in [(-outside, "too steep"), (0.0, "balanced"), (outside, "too flat")] {
        canvas.text(word, (x(b), WORDS_MM), words)?;
    }
    for side in [-middle, middle] {
        let band = x(g.leaning) - x(g.balanced) - 0.8;
        canvas.text("leaning", (x(side), WORDS_MM), LABEL.within("leaning", band))?;
    }
    Ok(())
}

fn paint_ends(canvas: &Canvas, g: &Gauge, x: &impl Fn(f64) -> f64) -> Result {
    for (b, number) in [(-1.0, "−1"), (-0.5, "−0.5"), (0.0, "0"), (0.5, "+0.5"), (1.0, "+1")] {
        canvas.line(&[(x(b), band_bottom(canvas)), (x(b), band_bottom(canvas) + 0.9)], Pen(INK, 0.6))?;
        canvas.text(number, (x(b), band_bottom(canvas) + 2.2), LABEL)?;
    }
    let (tail, front, wheels) = (x(-1.0), x(1.0), canvas.height_mm - 3.4);
    canvas.line(&[(tail, wheels), (front, wheels)], Pen(INK, 1.6))?;
    for (place, radius) in [(tail, 1.3), (front, 2.0)] {
        canvas.disc((place, wheels), radius, PAPER)?;
        canvas.ring((place, wheels), radius, Pen(INK, 1.1))?;
        canvas.disc((place, wheels), 0.4, INK)?;
    }
    let note = LABEL.sized(6.5);
    let under = canvas.height_mm - 1.2;
    canvas.text(&format!("all on the {}", g.tail), (tail + 2.4, under), note.standing(Stand::Right))?;
    canvas.text(&format!("all on the {}", g.front), (front - 2.8, under), note.standing(Stand::Left))
}

fn paint_pointer(canvas: &Canvas, g: &Gauge, x: &impl Fn(f64) -> f64) -> Result {
    let middle = (BAND_TOP_MM + band_bottom(canvas)) / 2.0;
    let (low, high) = (x(g.low), x(g.high));
    // A white edge keeps the bar apart from the hatching in any copy.
    canvas.line(&[(low, middle), (high, middle)], Pen(PAPER, 6.0))?;
    canvas.line(&[(low, middle), (high, middle)], Pen(INK, 3.0))?;
    for (end, beyond, outward) in [(low, g.low < -END, -1.0), (high, g.high > END, 1.0)] {
        if beyond {
            let tip = end + outward * 2.0;
            canvas.fill(&[(tip, middle), (end, middle - 1.6), (end, middle + 1.6)], INK)?;
        } else {
            canvas.line(&[(end, middle - 1.6), (end, middle + 1.6)], Pen(INK, 1.6))?;
        }
    }
    let place = x(g.value);
    let diamond = |r: f64| {
        [(place, middle - r * 1.25), (place + r, middle), (place, middle + r * 1.25), (place - r, middle)]
    };
    canvas.fill(&diamond(3.0), PAPER)?;
    canvas.fill(&diamond(2.4), INK)?;
    // An open pointer, as open as what it says.
    if g.set_aside { canvas.fill(&diamond(1.5), PAPER) } else { Ok(()) }
}
