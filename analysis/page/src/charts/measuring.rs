//! Where a tape is held, drawn: the plow thin, what is measured bold.

use super::canvas::{
    Canvas, Dash, GREY, INK, LABEL, Lettering, MEASURED, Mm, PAPER, Pen, STEEL, Size, Stand, picture,
};
use crate::Result;
use crate::measuring::{COLUMNS, Drawing, Mark, Part, Place, ROWS};

const BODY: Pen = Pen(INK, 0.6);
const HEAVY: Pen = Pen(INK, 1.8);
const TAPE: Pen = Pen(MEASURED, 1.1);
const GUIDE: Pen = Pen(MEASURED, 0.4);
const NAME: Lettering = Lettering { size_pt: 6.0, ink: GREY, ..LABEL };
const LETTER: Lettering = Lettering { size_pt: 6.5, bold: true, ..LABEL };
const ASKED: Lettering = Lettering { size_pt: 7.5, bold: true, ink: MEASURED, ..LABEL };
/// Half the room of a question mark, columns.
const GAP: f64 = 1.6;
/// Under this many columns a measured length has its arrows outside.
const SHORT: f64 = 9.0;

/// Outline of a bottom from the point of its share, columns back and up: share, shin, upper edge, wing.
const BOTTOM: [(f64, f64); 9] = [
    (0.0, 0.0),
    (1.2, 1.7),
    (2.1, 3.3),
    (3.0, 5.4),
    (5.6, 6.0),
    (8.4, 5.6),
    (7.4, 3.4),
    (6.3, 1.2),
    (5.6, 0.0),
];
/// The same from above: landside, wing, edge of the share; columns back and rightward.
const SHARE: [(f64, f64); 4] = [(0.0, 0.0), (11.0, 0.0), (9.0, 6.0), (7.0, 6.0)];

/// The drawing, as large as fits.
pub fn draw(drawing: &Drawing, size: Size) -> Result<String> {
    picture(size, |canvas| {
        let unit = (size.width_mm / f64::from(COLUMNS)).min(size.height_mm / f64::from(2 * ROWS));
        let left = (size.width_mm - unit * f64::from(COLUMNS)) / 2.0;
        let pencil = Pencil { canvas, unit, left };
        drawing.parts.iter().try_for_each(|part| pencil.part(*part))?;
        drawing.marks.iter().try_for_each(|mark| pencil.mark(*mark))
    })
}

struct Pencil<'c, 'a> {
    canvas: &'c Canvas<'a>,
    /// mm a column.
    unit: f64,
    left: f64,
}

impl Pencil<'_, '_> {
    fn at(&self, (column, row): Place) -> Mm {
        self.moved((column, row), (0.0, 0.0))
    }

    /// A place so many columns back (to the left) and up.
    fn moved(&self, (column, row): Place, (back, up): (f64, f64)) -> Mm {
        (
            self.left + (f64::from(column) + 0.5 - back) * self.unit,
            (2.0 * f64::from(row) + 1.0 - up) * self.unit,
        )
    }

    fn outline(&self, about: Place, shape: &[(f64, f64)], down: f64) -> Vec<Mm> {
        let turned = shape.iter().chain(shape.first());
        turned.map(|&(back, up)| self.moved(about, (back, up * down))).collect()
    }

    fn solid(&self, outline: &[Mm]) -> Result {
        self.canvas.fill(outline, STEEL)?;
        self.canvas.line(outline, BODY)
    }

    fn level(&self, row: i16, (from, to): (i16, i16), pen: Pen, dash: Dash) -> Result {
        self.canvas.broken(
            &[self.moved((from, row), (0.5, 0.0)), self.moved((to, row), (-0.5, 0.0))],
            pen,
            dash,
        )
    }

    fn wheel(&self, hub: Mm, radius: f64) -> Result {
        self.canvas.disc(hub, radius, PAPER)?;
        self.canvas.ring(hub, radius, Pen(INK, 1.4))?;
        self.canvas.ring(hub, radius * 0.82, Pen(INK, 0.4))?;
        self.canvas.disc(hub, self.unit * 0.5, INK)
    }

    fn part(&self, part: Part) -> Result {
        let (canvas, u) = (self.canvas, self.unit);
        match part {
            Part::Ground(row, reach) => self.level(row, reach, Pen(INK, 1.2), Dash::Solid),
            Part::Dotted(row, reach) => self.level(row, reach, Pen(GREY, 0.6), Dash::Broken(1.2, 0.9)),
            Part::Turned(row, (from, to)) => {
                let wave = |at: i16| {
                    self.moved((from, row), (-f64::from(at) / 2.0, if at % 2 == 0 { -0.4 } else { 0.4 }))
                };
                canvas.line(&(0..=2 * (to - from)).map(wave).collect::<Vec<_>>(), Pen(INK, 0.8))
            }
            Part::Block(from, to) => {
                let (from, to) = (self.moved(from, (0.5, 0.0)), self.moved(to, (-0.5, 0.0)));
                self.solid(&[from, (to.0, from.1), to, (from.0, to.1), from])
            }
            Part::Wheel(hub) => self.wheel(self.at(hub), 4.0 * u),
            Part::InclinedWheel(contact) => {
                let size = (4.6 * u, 3.6 * u);
                super::supports::inclined_wheel(canvas, self.at(contact), size, 1.2)
            }
            Part::Heel(contact) => super::supports::sole(canvas, self.at(contact), (2.5 * u, 1.4 * u, INK)),
            Part::Tread(contact) => {
                let outline: Vec<Mm> = [(-1.2, 0.0), (-1.2, 6.4), (1.2, 6.4), (1.2, 0.0), (-1.2, 0.0)]
                    .map(|by| self.moved(contact, by))
                    .to_vec();
                self.solid(&outline)
            }
            Part::Bottom(point) => {
                self.solid(&self.outline(point, &BOTTOM, 1.0))?;
                canvas.line(&[(1.2, 1.7), (6.3, 1.2)].map(|by| self.moved(point, by)), BODY)
            }
            Part::Share(point) => {
                self.solid(&self.outline(point, &SHARE, -1.0))?;
                canvas.line(&[(0.0, 0.0), (11.0, 0.0)].map(|by| self.moved(point, by)), HEAVY)
            }
            Part::Beam(from, to) => canvas.line(&[self.at(from), self.at(to)], HEAVY),
            Part::Rod(from, to) => canvas.line(&[self.at(from), self.at(to)], BODY),
            Part::Spring(top, foot) => {
                let (from, to) = (self.moved(top, (0.0, 1.0)), self.moved(foot, (0.0, -1.0)));
                super::supports::spring(canvas, (from, to), u, 0.8)
            }
            Part::Hole(at) => super::supports::pin(canvas, self.at(at), (0.55 * u, Pen(INK, 0.7))),
            Part::Name(at, text) => canvas.text(text, self.at(at), NAME),
            Part::Letter(at, text) => canvas.text(text, self.at(at), LETTER),
        }
    }

    fn mark(&self, mark: Mark) -> Result {
        let canvas = self.canvas;
        match mark {
            Mark::Along(row, (from, to)) => {
                let (from, to) = (self.at((from.min(to), row)), self.at((from.max(to), row)));
                for (x, y) in [from, to] {
                    canvas.line(&[(x, y - 0.8 * self.unit), (x, y + 0.8 * self.unit)], TAPE)?;
                }
                self.measured(from, to)
            }
            Mark::Pins(from, to) => {
                let off = (0.0, 2.6);
                for end in [from, to] {
                    canvas.line(&[self.at(end), self.moved(end, (0.0, 3.2))], GUIDE)?;
                }
                self.measured(self.moved(from, off), self.moved(to, off))
            }
            Mark::Upright(column, (top, foot)) => self.upright(column, [(top, 0.0), (foot, 0.0)]),
            Mark::Diameter((_, row), column) => self.upright(column, [(row, 4.0), (row, -4.0)]),
            Mark::Press(at, word) => {
                canvas.arrow(self.moved(at, (0.0, 4.0)), self.at(at), Pen(MEASURED, 1.6))?;
                canvas.text(word, self.moved(at, (-1.5, 3.0)), ASKED.sized(7.0).standing(Stand::Right))
            }
            Mark::Scale(at, word) => {
                canvas.frame_box(self.moved(at, (3.6, 1.1)), self.moved(at, (-3.6, -1.1)), GUIDE)?;
                canvas.text(word, self.at(at), ASKED.sized(5.5))
            }
            Mark::Number(at, word) => {
                // Numbers of holes stand a row apart.
                let size_pt = if word.len() > 1 { 7.0 } else { 5.4 };
                canvas.text(word, self.at(at), ASKED.sized(size_pt))
            }
        }
    }

    fn upright(&self, column: i16, ends: [(i16, f64); 2]) -> Result {
        let [top, foot] = ends.map(|(row, up)| self.moved((column, row), (0.0, up)));
        for (x, y) in [top, foot] {
            self.canvas.line(&[(x - self.unit, y), (x + self.unit, y)], TAPE)?;
        }
        self.measured(top, foot)
    }

    /// A line with an arrow at each end and a question mark; where there is no room between the ends, beside them.
    fn measured(&self, from: Mm, to: Mm) -> Result {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = dx.hypot(dy);
        let (ux, uy) = if length > 0.0 { (dx / length, dy / length) } else { (1.0, 0.0) };
        let go = |at: Mm, far: f64| (at.0 + ux * far, at.1 + uy * far);
        if length < SHORT * self.unit {
            if ux.abs() > uy.abs() {
                let reach = 4.0 * self.unit;
                self.canvas.arrow(go(from, -reach), from, TAPE)?;
                self.canvas.arrow(go(to, reach), to, TAPE)?;
                return self.canvas.text("?", go(to, reach + self.unit), ASKED.standing(Stand::Right));
            }
            let middle = go(from, length / 2.0);
            self.canvas.arrow(middle, from, TAPE)?;
            self.canvas.arrow(middle, to, TAPE)?;
            return self.canvas.text("?", (middle.0 + self.unit, middle.1), ASKED.standing(Stand::Right));
        }
        let (middle, gap) = (go(from, length / 2.0), GAP * self.unit);
        self.canvas.arrow(go(middle, -gap), from, TAPE)?;
        self.canvas.arrow(go(middle, gap), to, TAPE)?;
        self.canvas.text("?", middle, ASKED)
    }
}
