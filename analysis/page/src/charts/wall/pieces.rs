//! Small pieces that both views of the wall diagram are made of.

use super::styles::WallLine;
use crate::PageError;
use crate::charts::canvas::{Canvas, Dash, INK, LABEL, Lettering, Mm, PAPER, Pen, STEEL};
use crate::charts::labels::{Occupied, Placed};

/// Lettering of forces: read from two metres.
pub const FORCE: Lettering = Lettering { size_pt: 14.0, bold: true, ..LABEL };
/// Lettering of points and lines.
pub const NAME: Lettering = Lettering { size_pt: 10.5, ..LABEL };
/// Pen of every force arrow, the one of the scale too.
pub const ARROW: Pen = Pen(INK, 3.0);
/// The plow itself.
pub const BODY: Pen = Pen(STEEL, 5.0);

/// Height of the hatching under the furrow's floor, mm.
pub const FLOOR_MM: f64 = 2.4;

/// A name farther than this from its place gets a leader to it, mm.
const LEADER_FROM_MM: f64 = 7.0;

/// A rectangle of the page, mm.
#[derive(Clone, Copy, Debug)]
pub struct Region {
    /// Upper left corner.
    pub corner: Mm,
    /// Lower right corner.
    pub far: Mm,
}

impl Region {
    /// Its width, mm.
    pub fn width(self) -> f64 {
        self.far.0 - self.corner.0
    }

    /// Its height, mm.
    pub fn height(self) -> f64 {
        self.far.1 - self.corner.1
    }

    /// Places for labels inside it only.
    pub fn labels(self, canvas: &Canvas) -> Occupied {
        let mut taken = Occupied::on(canvas);
        let (page, far) = ((0.0, 0.0), (canvas.width_mm, canvas.height_mm));
        taken.take(page, (far.0, self.corner.1));
        taken.take((0.0, self.far.1), far);
        taken.take(page, (self.corner.0, far.1));
        taken.take((self.far.0, 0.0), far);
        taken
    }

    /// The straight line through two points as far as it is inside; `None` if it passes by.
    pub fn across(self, a: Mm, b: Mm) -> Option<(Mm, Mm)> {
        let (dx, dy) = (b.0 - a.0, b.1 - a.1);
        let (mut from, mut to) = (f64::NEG_INFINITY, f64::INFINITY);
        for (start, step, low, high) in
            [(a.0, dx, self.corner.0, self.far.0), (a.1, dy, self.corner.1, self.far.1)]
        {
            if step.abs() < 1e-9 {
                if start < low || start > high {
                    return None;
                }
                continue;
            }
            let (one, other) = ((low - start) / step, (high - start) / step);
            from = from.max(one.min(other));
            to = to.min(one.max(other));
        }
        let at = |share: f64| (a.0 + dx * share, a.1 + dy * share);
        (from < to && from.is_finite() && to.is_finite()).then(|| (at(from), at(to)))
    }
}

/// Draws a line in its look.
///
/// # Errors
/// [`PageError::Chart`] if the back end fails.
pub fn line(canvas: &Canvas, points: &[Mm], line: WallLine) -> Result<(), PageError> {
    let (pen, dash) = line.pen();
    canvas.line(points, pen, dash)
}

/// A force, on a white edge that lifts it from what lies behind.
///
/// # Errors
/// As [`line`].
pub fn force(canvas: &Canvas, from: Mm, to: Mm) -> Result<(), PageError> {
    canvas.line(&[from, to], Pen(PAPER, ARROW.1 + 2.0), Dash::Solid)?;
    canvas.arrow(from, to, ARROW)
}

/// A pin.
///
/// # Errors
/// As [`line`].
pub fn pin(canvas: &Canvas, at: Mm, moved: bool) -> Result<(), PageError> {
    let r = 1.6;
    if moved {
        let corners = [(-r, -r), (r, -r), (r, r), (-r, r)].map(|(x, y)| (at.0 + x, at.1 + y));
        canvas.fill(&corners, PAPER)?;
        return canvas.frame_box(corners[0], corners[2], Pen(INK, 1.4));
    }
    canvas.disc(at, r, PAPER)?;
    canvas.ring(at, r, Pen(INK, 1.4))
}

/// The steady point, or a centre of resistance: a black diamond.
///
/// # Errors
/// As [`line`].
pub fn diamond(canvas: &Canvas, at: Mm) -> Result<(), PageError> {
    let r = 2.3;
    canvas.fill(&[(at.0, at.1 - r), (at.0 + r, at.1), (at.0, at.1 + r), (at.0 - r, at.1)], INK)
}

/// A bottom: its share with the point ahead (to the right) on the furrow bottom, `half_mm` long each way.
///
/// # Errors
/// As [`line`].
pub fn bottom(canvas: &Canvas, point: Mm, half_mm: f64) -> Result<(), PageError> {
    let (x, y) = point;
    let rear = x - 2.0 * half_mm;
    canvas.fill(&[(x, y), (rear, y), (rear + half_mm * 0.3, y - half_mm * 1.3)], STEEL)
}

/// What slides.
///
/// # Errors
/// As [`line`].
pub fn sole(canvas: &Canvas, (x, y): Mm) -> Result<(), PageError> {
    canvas.fill(&[(x + 5.0, y), (x - 5.0, y), (x - 4.0, y - 2.6), (x + 2.0, y - 2.6)], INK)
}

/// A name and what it names.
pub struct Named<'a> {
    /// Its letters.
    pub text: &'a str,
    /// What it names.
    pub at: Mm,
    /// How it is set.
    pub lettering: Lettering,
}

/// Writes a name where there is room for it about a point, with a leader if that is far.
///
/// # Errors
/// As [`line`].
pub fn name(
    canvas: &Canvas,
    taken: &mut Occupied,
    text: &str,
    at: Mm,
    lettering: Lettering,
) -> Result<(), PageError> {
    names(canvas, taken, &[Named { text, at, lettering }])
}

/// One way to place several names.
struct Placing<'a> {
    crowded: usize,
    taken: Occupied,
    placed: Vec<(&'a Named<'a>, Placed)>,
}

/// Writes several. Which of them finds room depends on who is first: of some orders that one is taken which leaves the
/// fewest without a free place.
///
/// # Errors
/// As [`line`].
pub fn names(canvas: &Canvas, taken: &mut Occupied, all: &[Named]) -> Result<(), PageError> {
    let all: Vec<&Named> = all.iter().filter(|name| !name.text.is_empty()).collect();
    let mut best: Option<Placing> = None;
    for turn in 0..2 * all.len() {
        let mut order = all.clone();
        order.rotate_left(turn / 2);
        if turn % 2 == 1 {
            order.reverse();
        }
        let mut then = taken.clone();
        let placed: Vec<(&Named, Placed)> = order
            .into_iter()
            .map(|name| {
                let placed = then.place(name.text, name.at, name.lettering);
                if let Some((from, to)) = placed.leader(LEADER_FROM_MM) {
                    then.take_line(from, to);
                }
                (name, placed)
            })
            .collect();
        let crowded = placed.iter().filter(|(_, placed)| !placed.free).count();
        if best.as_ref().is_none_or(|best| crowded < best.crowded) {
            best = Some(Placing { crowded, taken: then, placed });
        }
        if crowded == 0 {
            break;
        }
    }
    let Some(best) = best else { return Ok(()) };
    *taken = best.taken;
    for (name, placed) in best.placed {
        if let Some((from, to)) = placed.leader(LEADER_FROM_MM) {
            line(canvas, &[from, to], WallLine::Leader)?;
        }
        canvas.text(name.text, placed.at, name.lettering.standing(placed.stand))?;
    }
    Ok(())
}
