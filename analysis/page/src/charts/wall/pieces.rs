//! Lines and other small pieces that both views of the wall diagram are made of. No two lines share pen and dash, so
//! that any copier leaves them apart; a grey is never the only difference.

use crate::Result;
use crate::charts::canvas::{Canvas, Dash, GREY, INK, Ink, LABEL, Lettering, Mm, PAPER, Pen, STEEL};
use crate::charts::labels::{Occupied, Placed};
use crate::wall_content::Then;

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

/// What a line stands for: see [`WallLine::words`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, strum::VariantArray)]
pub enum WallLine {
    PullNow,
    PullAfter,
    Soil,
    Weight,
    Link,
    OffsetNow,
    OffsetAfter,
    Ground,
    Leader,
}

impl WallLine {
    /// Colour, width in pt, and drawn and left out in mm (0 left out is unbroken).
    pub fn style(self) -> (Ink, f64, (f64, f64)) {
        match self {
            Self::PullNow => (INK, 1.5, (6.0, 2.0)),
            Self::PullAfter => (INK, 1.9, (2.4, 1.6)),
            Self::Soil => (INK, 2.0, (0.7, 1.3)),
            Self::Weight => (INK, 0.6, (9.0, 1.2)),
            Self::Link => (INK, 0.6, (1.8, 1.0)),
            Self::OffsetNow => (INK, 4.5, (1.0, 0.0)),
            Self::OffsetAfter => (INK, 4.5, (1.2, 0.8)),
            Self::Ground => (GREY, 1.0, (1.0, 0.0)),
            Self::Leader => (INK, 0.4, (1.0, 0.0)),
        }
    }

    pub fn pen(self) -> (Pen, Dash) {
        let (ink, width_pt, (on_mm, off_mm)) = self.style();
        let dash = if off_mm > 0.0 { Dash::Broken(on_mm, off_mm) } else { Dash::Solid };
        (Pen(ink, width_pt), dash)
    }

    /// In the words of the legend.
    pub fn words(self, then: Then) -> String {
        let fixed = match self {
            Self::PullAfter => return format!("line of pull {}", then.words()),
            Self::OffsetAfter => return format!("e {}", then.words()),
            Self::PullNow => "line of pull now",
            Self::Soil => "line of the soil force",
            Self::Weight => "line of the weight",
            Self::Link => "link carried on to where links meet",
            Self::OffsetNow => "e: pull line over steady point, now",
            Self::Ground => "land, and furrow bottom below it",
            Self::Leader => "from a name to its place",
        };
        fixed.to_owned()
    }
}

pub fn line(canvas: &Canvas, points: &[Mm], line: WallLine) -> Result {
    let (pen, dash) = line.pen();
    canvas.broken(points, pen, dash)
}

/// A force, on a white edge that lifts it from what lies behind.
pub fn force(canvas: &Canvas, from: Mm, to: Mm) -> Result {
    canvas.line(&[from, to], Pen(PAPER, ARROW.1 + 2.0))?;
    canvas.arrow(from, to, ARROW)
}

/// Where a pin would be after the move.
pub fn moved_pin(canvas: &Canvas, at: Mm) -> Result {
    let (r, pen) = PIN;
    let corners = [(-r, -r), (r, -r), (r, r), (-r, r)].map(|(x, y)| (at.0 + x, at.1 + y));
    canvas.fill(&corners, PAPER)?;
    canvas.frame_box(corners[0], corners[2], pen)
}

/// A name, what it names, and how it is set.
pub type Named<'a> = (&'a str, Mm, Lettering);

/// Writes a name where there is room for it about a point, with a leader if that is far.
pub fn name(canvas: &Canvas, taken: &mut Occupied, text: &str, at: Mm, lettering: Lettering) -> Result {
    names(canvas, taken, &[(text, at, lettering)])
}

/// Writes several. Which of them finds room depends on who is first: of some orders that one is taken which leaves the
/// fewest without a free place.
pub fn names(canvas: &Canvas, taken: &mut Occupied, all: &[Named]) -> Result {
    let all: Vec<&Named> = all.iter().filter(|name| !name.0.is_empty()).collect();
    let (mut best, mut fewest) = (None, usize::MAX);
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
                let placed = then.place(name.0, name.1, name.2);
                if let Some((from, to)) = placed.leader(LEADER_FROM_MM) {
                    then.take_line(from, to);
                }
                (name, placed)
            })
            .collect();
        let crowded = placed.iter().filter(|(_, placed)| !placed.free).count();
        if crowded < fewest {
            (best, fewest) = (Some((then, placed)), crowded);
        }
        if crowded == 0 {
            break;
        }
    }
    let Some((then, placed)) = best else { return Ok(()) };
    *taken = then;
    for (name, placed) in placed {
        if let Some((from, to)) = placed.leader(LEADER_FROM_MM) {
            line(canvas, &[from, to], WallLine::Leader)?;
        }
        canvas.text(name.0, placed.at, name.2.standing(placed.stand))?;
    }
    Ok(())
}

/// A sentence in lines of this width; with a lead before the first and before each further one.
pub fn wrapped(sentence: &str, how: Lettering, width_mm: f64, (first, further): (&str, &str)) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in sentence.split_whitespace() {
        let lead = if lines.is_empty() { first } else { further };
        match lines.last_mut() {
            Some(line) if how.width_mm(&format!("{line} {word}")) <= width_mm => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(format!("{lead}{word}")),
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use strum::VariantArray;

    /// Width and dash alone, without the colour, tell all lines apart: by a fifth at least.
    #[test]
    fn no_two_lines_look_alike_in_grey() {
        let apart = |a: f64, b: f64| (a - b).abs() > 0.2 * a.max(b);
        for (i, one) in WallLine::VARIANTS.iter().enumerate() {
            for other in &WallLine::VARIANTS[..i] {
                let ((_, a, (a_on, a_off)), (_, b, (b_on, b_off))) = (one.style(), other.style());
                let broken = a_off != 0.0 || b_off != 0.0;
                let broken_apart = broken && (apart(a_on, b_on) || apart(a_off, b_off));
                assert!(broken_apart || apart(a, b), "{one:?} and {other:?}");
            }
        }
    }
}
