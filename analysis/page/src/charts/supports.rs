//! What carries a plow in the side view: wheels standing on what they run on, soles, pins.

use super::canvas::{Canvas, INK, Ink, Mm, PAPER, Pen};
use crate::Result;

/// A wheel with its lowest point at `contact`, and a hub of `hub_mm`.
pub fn wheel(canvas: &Canvas, contact: Mm, diameter_mm: f64, pen_pt: f64, hub_mm: f64) -> Result {
    let radius = (diameter_mm.max(0.0) / 2.0).clamp(0.5, 60.0);
    let hub = (contact.0, contact.1 - radius);
    canvas.disc(hub, radius, PAPER)?;
    canvas.ring(hub, radius, Pen(INK, pen_pt))?;
    canvas.disc(hub, hub_mm, INK)
}

/// A spring, upright, from its top to its foot, `half_mm` wide each way.
pub fn spring(canvas: &Canvas, (top, foot): (Mm, Mm), half_mm: f64, pen_pt: f64) -> Result {
    const BENDS: u8 = 8;
    let bend = |at: u8| {
        let aside = match at {
            0 | BENDS => 0.0,
            _ if at.is_multiple_of(2) => half_mm,
            _ => -half_mm,
        };
        (top.0 + aside, top.1 + (foot.1 - top.1) * f64::from(at) / f64::from(BENDS))
    };
    canvas.line(&(0..=BENDS).map(bend).collect::<Vec<_>>(), Pen(INK, pen_pt))
}

/// A wheel inclined away from the eye, which stands lower than it is long: its rim nearer the eye, a second line for the
/// rim beyond, and the hub.
pub fn inclined_wheel(canvas: &Canvas, contact: Mm, (long_mm, high_mm): (f64, f64), pen_pt: f64) -> Result {
    let half = |mm: f64| (mm / 2.0).clamp(0.5, 60.0);
    let (a, b) = (half(long_mm), half(high_mm));
    let ellipse = |share: f64, rise_mm: f64| -> Vec<Mm> {
        let turn = |i: u32| std::f64::consts::TAU * f64::from(i) / 48.0;
        let on = |angle: f64| {
            (contact.0 + share * a * angle.sin(), contact.1 - b - rise_mm + share * b * angle.cos())
        };
        (0..=48).map(|i| on(turn(i))).collect()
    };
    canvas.fill(&ellipse(1.0, 0.0), PAPER)?;
    canvas.line(&ellipse(1.0, 0.0), Pen(INK, pen_pt))?;
    canvas.line(&ellipse(0.7, b * 0.2), Pen(INK, pen_pt * 0.6))?;
    canvas.disc((contact.0, contact.1 - b * 1.2), (b * 0.16).clamp(0.4, 1.1), INK)
}

/// What slides, `half_mm` long each way.
pub fn sole(canvas: &Canvas, (x, y): Mm, (half_mm, high_mm, ink): (f64, f64, Ink)) -> Result {
    let (front, rear, top) = (x + half_mm, x - half_mm, y - high_mm);
    canvas.fill(&[(front, y), (rear, y), (rear + 1.0, top), (front - 3.0, top)], ink)
}

/// A pin.
pub fn pin(canvas: &Canvas, at: Mm, (radius_mm, pen): (f64, Pen)) -> Result {
    canvas.disc(at, radius_mm, PAPER)?;
    canvas.ring(at, radius_mm, pen)
}

/// A diamond: the steady point.
pub fn diamond(canvas: &Canvas, (x, y): Mm, r: f64) -> Result {
    canvas.fill(&[(x, y - r), (x + r, y), (x, y + r), (x - r, y)], INK)
}
