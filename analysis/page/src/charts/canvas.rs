//! A drawing surface in millimetres and points on top of the SVG back end of plotters.
//!
//! plotters' own chart builder is not used: it does not clip, hangs on an axis that ends at infinity, leaves
//! log axes without labels under a decade and cuts the last tick label off. Its drawing areas and elements
//! are sound.

use std::io;

use plotters::coord::Shift;
use plotters::drawing::DrawingAreaErrorKind;
use plotters::element::{Circle, DashedPathElement, PathElement, Polygon};
use plotters::prelude::{DrawingArea, IntoDrawingArea, SVGBackend};
use plotters::style::text_anchor::{HPos, Pos, VPos};
use plotters::style::{
    Color, FontDesc, FontFamily, FontStyle, FontTransform, IntoTextStyle, RGBColor, ShapeStyle,
};

use crate::text::one_line;
use crate::typeset::{TYPEFACE, width_em};
use crate::{PageError, Paper, Result};

/// The back end has whole pixels only; at this many a millimetre (406 dpi) no step can be seen in print.
pub(super) const PX_PER_MM: f64 = 16.0;
const MM_PER_PT: f64 = 25.4 / 72.0;
/// plotters divides font sizes by this before it writes them.
const FONT_SIZE_DIVISOR: f64 = 1.24;
/// Coordinates are kept within this many millimetres, so that none can overflow a pixel number.
const FARTHEST_MM: f64 = 10_000.0;
/// A place on the canvas: mm from the left, mm from the top.
pub type Mm = (f64, f64);

/// Near black, for axes and text.
pub const INK: RGBColor = RGBColor(25, 25, 25);
/// For the second line of sight: grids, guides.
pub const GREY: RGBColor = RGBColor(125, 125, 125);
/// For grids.
pub const PALE: RGBColor = RGBColor(222, 222, 222);
/// For filled bands under lines.
pub const WASH: RGBColor = RGBColor(236, 236, 236);
/// The 95 % band about a measured curve.
pub const RULE_BAND: RGBColor = RGBColor(205, 214, 219);
/// The plow itself, behind the forces.
pub const STEEL: RGBColor = RGBColor(165, 165, 165);
/// What was measured: dark enough to stay a clear dark grey in black and white.
pub const MEASURED: RGBColor = RGBColor(0, 82, 110);
/// Paper.
pub const PAPER: RGBColor = RGBColor(255, 255, 255);

/// A colour of the page.
pub type Ink = RGBColor;

/// A pen: colour and width in points.
#[derive(Clone, Copy)]
pub struct Pen(pub RGBColor, pub f64);

impl Pen {
    fn style(self) -> ShapeStyle {
        let width_px = (self.1 * MM_PER_PT * PX_PER_MM).round().max(1.0) as u32;
        ShapeStyle::from(self.0).stroke_width(width_px)
    }
}

/// How a line is broken up: drawn and left out, mm.
#[derive(Clone, Copy)]
pub enum Dash {
    /// Unbroken.
    Solid,
    /// On and off.
    Broken(f64, f64),
}

/// Where a text stands about its point.
#[derive(Clone, Copy)]
pub enum Stand {
    /// Begins at the point.
    Right,
    /// Centred on the point.
    Middle,
    /// Ends at the point.
    Left,
}

/// How a text is set.
#[derive(Clone, Copy)]
pub struct Lettering {
    /// Size, pt.
    pub size_pt: f64,
    /// Bold face.
    pub bold: bool,
    /// Horizontal place.
    pub stand: Stand,
    /// Colour.
    pub ink: RGBColor,
    /// Most characters; a longer text is cut.
    pub most: usize,
}

/// Ordinary chart text, 7 pt, dark.
pub const LABEL: Lettering =
    Lettering { size_pt: 7.0, bold: false, stand: Stand::Middle, ink: INK, most: 60 };
/// Sentences on a sheet that is drawn whole.
pub const SENTENCE: Lettering = Lettering { stand: Stand::Right, most: 200, ..LABEL };

impl Lettering {
    /// The same at another horizontal place.
    pub fn standing(self, stand: Stand) -> Self {
        Self { stand, ..self }
    }

    /// The same in bold.
    pub fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    /// The same in another size.
    pub fn sized(self, size_pt: f64) -> Self {
        Self { size_pt, ..self }
    }

    /// The same, made smaller where the text would be wider than its place.
    pub fn within(self, text: &str, width_mm: f64) -> Self {
        let share = width_mm / self.width_mm(text).max(1e-9);
        if share < 1.0 { self.sized(self.size_pt * share.max(0.05)) } else { self }
    }

    /// Height of a line, mm.
    pub fn height_mm(self) -> f64 {
        self.size_pt * MM_PER_PT
    }

    /// Width of a text as it will be drawn, mm.
    pub fn width_mm(self, text: &str) -> f64 {
        width_em(&one_line(text, self.most), self.bold) * self.height_mm()
    }
}

/// Width and height of a chart, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Size {
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
}

impl Size {
    /// The whole of a paper, the long side across.
    pub fn landscape(paper: Paper) -> Self {
        let (short_mm, long_mm) = paper.size_mm();
        Self { width_mm: long_mm, height_mm: short_mm }
    }
}

/// The surface.
pub struct Canvas<'a> {
    area: DrawingArea<SVGBackend<'a>, Shift>,
    /// Width, mm.
    pub width_mm: f64,
    /// Height, mm.
    pub height_mm: f64,
}

/// Makes an SVG picture of the given size with what `paint` draws.
pub fn picture(size: Size, paint: impl FnOnce(&Canvas) -> Result) -> Result<String> {
    let Size { width_mm, height_mm } = size;
    let mut svg = String::new();
    {
        let area =
            SVGBackend::with_string(&mut svg, (px(width_mm).unsigned_abs(), px(height_mm).unsigned_abs()));
        let canvas = Canvas { area: area.into_drawing_area(), width_mm, height_mm };
        paint(&canvas)?;
        canvas.area.present().map_err(chart_error)?;
    }
    Ok(svg)
}

fn px(mm: f64) -> i32 {
    // `as` makes 0 of NaN; the clamp keeps sums of pixel numbers far from overflow.
    (mm.clamp(-FARTHEST_MM, FARTHEST_MM) * PX_PER_MM).round() as i32
}

fn to_px((x, y): Mm) -> (i32, i32) {
    (px(x), px(y))
}

fn chart_error(error: DrawingAreaErrorKind<io::Error>) -> PageError {
    PageError::Chart(error.to_string())
}

impl Canvas<'_> {
    /// An unbroken line through the points.
    pub fn line(&self, points: &[Mm], pen: Pen) -> Result {
        self.broken(points, pen, Dash::Solid)
    }

    /// A line through the points, broken up or not.
    pub fn broken(&self, points: &[Mm], pen: Pen, dash: Dash) -> Result {
        let mut path: Vec<(i32, i32)> = points.iter().copied().map(to_px).collect();
        path.dedup();
        if path.len() < 2 {
            return Ok(());
        }
        match dash {
            Dash::Solid => self.area.draw(&PathElement::new(path, pen.style())),
            Dash::Broken(on, off) => {
                self.area.draw(&DashedPathElement::new(path, px(on).max(1), px(off).max(1), pen.style()))
            }
        }
        .map_err(chart_error)
    }

    /// A level bar with a stroke at each end.
    pub fn bar(&self, (left, y): Mm, right: f64, half_mm: f64, pen: Pen) -> Result {
        self.line(&[(left, y), (right, y)], pen)?;
        for end in [left, right] {
            self.line(&[(end, y - half_mm), (end, y + half_mm)], pen)?;
        }
        Ok(())
    }

    /// A filled area.
    pub fn fill(&self, outline: &[Mm], ink: RGBColor) -> Result {
        let path: Vec<(i32, i32)> = outline.iter().copied().map(to_px).collect();
        self.area.draw(&Polygon::new(path, ink.filled())).map_err(chart_error)
    }

    /// A filled rectangle from one corner to the opposite one.
    pub fn fill_box(&self, (left, top): Mm, (right, bottom): Mm, ink: RGBColor) -> Result {
        self.fill(&[(left, top), (right, top), (right, bottom), (left, bottom)], ink)
    }

    /// The outline of a rectangle.
    pub fn frame_box(&self, (left, top): Mm, (right, bottom): Mm, pen: Pen) -> Result {
        let corners = [(left, top), (right, top), (right, bottom), (left, bottom), (left, top)];
        self.line(&corners, pen)
    }

    /// Slanting lines over a rectangle: shading that survives any copier.
    pub fn hatch(&self, corners: (Mm, Mm), step_mm: f64, pen: Pen) -> Result {
        let ((left, top), (right, bottom)) = corners;
        let height = bottom - top;
        if !(height > 0.0 && right > left && step_mm > 0.1) {
            return Ok(());
        }
        // Starting on a common grid, so that neighbouring areas do not show a seam.
        let mut foot = ((left - height) / step_mm).floor() * step_mm;
        while foot < right {
            let from = foot.max(left);
            let to = (foot + height).min(right);
            if from < to {
                self.line(&[(from, bottom - (from - foot)), (to, bottom - (to - foot))], pen)?;
            }
            foot += step_mm;
        }
        Ok(())
    }

    /// A filled disc.
    pub fn disc(&self, at: Mm, radius_mm: f64, ink: RGBColor) -> Result {
        self.area.draw(&Circle::new(to_px(at), px(radius_mm), ink.filled())).map_err(chart_error)
    }

    /// A circle.
    pub fn ring(&self, at: Mm, radius_mm: f64, pen: Pen) -> Result {
        self.area.draw(&Circle::new(to_px(at), px(radius_mm), pen.style())).map_err(chart_error)
    }

    /// A straight arrow with a filled head at `to`; too short for a head, it is drawn as a line.
    pub fn arrow(&self, from: Mm, to: Mm, pen: Pen) -> Result {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        let length = dx.hypot(dy);
        let head = (1.2 + pen.1).min(length * 0.6);
        if length.is_nan() || length < 0.3 {
            return Ok(());
        }
        let (ux, uy) = (dx / length, dy / length);
        let neck = (to.0 - ux * head, to.1 - uy * head);
        let half = head * 0.36;
        self.line(&[from, neck], pen)?;
        self.fill(
            &[to, (neck.0 - uy * half, neck.1 + ux * half), (neck.0 + uy * half, neck.1 - ux * half)],
            pen.0,
        )
    }

    /// A text whose middle height is at the point.
    pub fn text(&self, text: &str, at: Mm, lettering: Lettering) -> Result {
        self.letters(text, at, lettering, FontTransform::None)
    }

    /// A text that runs upwards, centred on the point.
    pub fn text_upwards(&self, text: &str, at: Mm, lettering: Lettering) -> Result {
        self.letters(text, at, lettering, FontTransform::Rotate270)
    }

    fn letters(&self, text: &str, at: Mm, how: Lettering, turn: FontTransform) -> Result {
        let size_px = how.size_pt * MM_PER_PT * PX_PER_MM * FONT_SIZE_DIVISOR;
        let face = if how.bold { FontStyle::Bold } else { FontStyle::Normal };
        let across = match how.stand {
            Stand::Right => HPos::Left,
            Stand::Middle => HPos::Center,
            Stand::Left => HPos::Right,
        };
        let font = FontDesc::new(FontFamily::Name(TYPEFACE), size_px, face).transform(turn);
        let style = font.color(&how.ink).pos(Pos::new(across, VPos::Center)).into_text_style(&self.area);
        self.area.draw_text(&one_line(text, how.most), &style, to_px(at)).map_err(chart_error)
    }
}
