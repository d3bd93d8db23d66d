//! Small pieces that both views of the wall diagram are made of.

use super::styles::WallLine;
use crate::PageError;
use crate::charts::canvas::{Canvas, Dash, INK, Ink, LABEL, Lettering, Mm, PAPER, Pen, STEEL};
use crate::charts::labels::{Occupied, Placed};

/// Lettering of forces: read from two metres.
pub const FORCE: Lettering = Lettering { size_pt: 14.0, bold: true, ..LABEL };
/// Lettering of points and lines.
pub const NAME: Lettering = Lettering { size_pt: 10.5, ..LABEL };
/// Pen of every force arrow, the one of the scale too.
pub const ARROW: Pen = Pen(INK, 3.0);
/// The plow itself.
pub const BODY: Pen = Pen(STEEL, 5.0);

/// Radius and pen of a pin.
pub const PIN: (f64, Pen) = (1.6, Pen(INK, 1.4));
/// Half the length, height and color of what slides.
pub const SOLE: (f64, f64, Ink) = (5.0, 2.6, INK);
/// Half the height of the steady point, mm.
pub const STEADY_MM: f64 = 2.3;
/// Half the room that names keep off a pin, mm.
pub const PIN_CLEAR_MM: f64 = 1.8;

/// A name farther than this from its place gets a leader to it, mm.
const LEADER_FROM_MM: f64 = 7.0;

/// Draws a line in its look.
pub fn line(canvas: &Canvas, points: &[Mm], line: WallLine) -> Result<(), PageError> {
    let (pen, dash) = line.pen();
    canvas.line(points, pen, dash)
}

/// A force, on a white edge that lifts it from what lies behind.
pub fn force(canvas: &Canvas, from: Mm, to: Mm) -> Result<(), PageError> {
    canvas.line(&[from, to], Pen(PAPER, ARROW.1 + 2.0), Dash::Solid)?;
    canvas.arrow(from, to, ARROW)
}

/// Where a pin would be after the move.
pub fn moved_pin(canvas: &Canvas, at: Mm) -> Result<(), PageError> {
    let (r, pen) = PIN;
    let corners = [(-r, -r), (r, -r), (r, r), (-r, r)].map(|(x, y)| (at.0 + x, at.1 + y));
    canvas.fill(&corners, PAPER)?;
    canvas.frame_box(corners[0], corners[2], pen)
}

/// A bottom: its share with the point ahead (to the right) on the furrow bottom, `half_mm` long each way.
pub fn bottom(canvas: &Canvas, point: Mm, half_mm: f64) -> Result<(), PageError> {
    let (x, y) = point;
    let rear = x - 2.0 * half_mm;
    canvas.fill(&[(x, y), (rear, y), (rear + half_mm * 0.3, y - half_mm * 1.3)], STEEL)
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
pub fn name(
    canvas: &Canvas,
    taken: &mut Occupied,
    text: &str,
    at: Mm,
    lettering: Lettering,
) -> Result<(), PageError> {
    names(canvas, taken, &[Named { text, at, lettering }])
}

/// Writes several. Which of them finds room depends on who is first: of some orders that one is taken which leaves the
/// fewest without a free place.
pub fn names(canvas: &Canvas, taken: &mut Occupied, all: &[Named]) -> Result<(), PageError> {
    let all: Vec<&Named> = all.iter().filter(|name| !name.text.is_empty()).collect();
    let mut best: Option<(usize, Occupied, Vec<(&Named, Placed)>)> = None;
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
        if best.as_ref().is_none_or(|best| crowded < best.0) {
            best = Some((crowded, then, placed));
        }
        if crowded == 0 {
            break;
        }
    }
    let Some((_, then, placed)) = best else { return Ok(()) };
    *taken = then;
    for (name, placed) in placed {
        if let Some((from, to)) = placed.leader(LEADER_FROM_MM) {
            line(canvas, &[from, to], WallLine::Leader)?;
        }
        canvas.text(name.text, placed.at, name.lettering.standing(placed.stand))?;
    }
    Ok(())
}

/// A sentence in lines of this width; with a lead before the first and before each further one.
pub fn wrapped(sentence: &str, how: Lettering, width_mm: f64, (first, further): (&str, &str)) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in sentence.split_whitespace() {
        let lead = if lines.is_empty() { first } else { further };
        match lines.last_mut() {
            Some(line) if how.sentence_width_mm(&format!("{line} {word}")) <= width_mm => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(format!("{lead}{word}")),
        }
    }
    lines
}
