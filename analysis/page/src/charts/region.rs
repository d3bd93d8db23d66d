//! Rectangles of a picture, and what is fitted into them.

use super::canvas::{Canvas, Mm};
use super::labels::{Occupied, inside_share};

/// A rectangle of the picture, mm.
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

    /// What is left of it within a margin, mm.
    pub fn within(self, (x, y): Mm) -> Self {
        Self { corner: (self.corner.0 + x, self.corner.1 + y), far: (self.far.0 - x, self.far.1 - y) }
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
        let at = |share: f64| (a.0 + (b.0 - a.0) * share, a.1 + (b.1 - a.1) * share);
        let (from, to) = inside_share((a, b), (self.corner, self.far))?;
        (from < to && from.is_finite() && to.is_finite()).then(|| (at(from), at(to)))
    }

    /// A scale, mm of paper a metre, at which all fits: made smaller from `mm_per_m` down to `smallest`; and the origin
    /// that centers it. `drawn` has the points at a scale, with the origin at (0, 0).
    pub fn fit<I: Iterator<Item = Mm>>(
        self,
        mut mm_per_m: f64,
        smallest: f64,
        drawn: impl Fn(f64) -> I,
    ) -> (f64, Mm) {
        loop {
            let (low, high) = bounds(drawn(mm_per_m));
            let fits = high.0 - low.0 <= self.width() && high.1 - low.1 <= self.height();
            if fits || mm_per_m <= smallest {
                let middle = |corner: f64, far: f64, low: f64, high: f64| (corner + far - low - high) / 2.0;
                let x = middle(self.corner.0, self.far.0, low.0, high.0);
                return (mm_per_m, (x, middle(self.corner.1, self.far.1, low.1, high.1)));
            }
            mm_per_m *= 0.97;
        }
    }
}

/// Corners of the box about points, mm.
fn bounds(points: impl Iterator<Item = Mm>) -> (Mm, Mm) {
    let start = ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
    points.fold(start, |(a, b), p| ((a.0.min(p.0), a.1.min(p.1)), (b.0.max(p.0), b.1.max(p.1))))
}
