//! Finds places for labels so that none covers another or leaves the picture.

use super::canvas::{Canvas, Lettering, Mm, Stand};

/// Boxes already taken on a canvas, mm.
pub struct Taken {
    boxes: Vec<(Mm, Mm)>,
    width_mm: f64,
    height_mm: f64,
}

impl Taken {
    /// A canvas with nothing on it.
    pub fn on(canvas: &Canvas) -> Self {
        Self { boxes: Vec::new(), width_mm: canvas.width_mm, height_mm: canvas.height_mm }
    }

    /// Marks a box as taken.
    pub fn take(&mut self, corner: Mm, far: Mm) {
        self.boxes.push((corner, far));
    }

    /// Marks a straight line as taken, in small boxes along it.
    pub fn take_line(&mut self, from: Mm, to: Mm) {
        let steps = ((to.0 - from.0).hypot(to.1 - from.1) / 1.5).clamp(1.0, 200.0) as usize;
        for step in 0..=steps {
            let share = step as f64 / steps as f64;
            let at = (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
            self.take((at.0 - 0.7, at.1 - 0.7), (at.0 + 0.7, at.1 + 0.7));
        }
    }

    /// The best place for `text` about `at`: the first free one of the eight around it, ring by ring
    /// outwards; if none is free the one that covers least. The place is marked as taken.
    pub fn place(&mut self, text: &str, at: Mm, lettering: Lettering) -> (Mm, Stand) {
        let (width, height) = (lettering.width_mm(text), lettering.height_mm());
        // Large letters need steps of their own size.
        let stretch = (lettering.size_pt / 8.0).max(1.0);
        // And they find less room near by.
        let rings = if stretch > 1.0 { 12 } else { 7 };
        let mut best = (f64::INFINITY, at, Stand::Right, (at, at));
        for ring in 0..rings {
            let gap = (1.4 + f64::from(ring) * 1.6) * stretch;
            let sides = [
                (gap, 0.0, Stand::Right),
                (-gap, 0.0, Stand::Left),
                (0.0, -gap - height * 0.4, Stand::Middle),
                (0.0, gap + height * 0.4, Stand::Middle),
                (gap, -gap, Stand::Right),
                (-gap, -gap, Stand::Left),
                (gap, gap, Stand::Right),
                (-gap, gap, Stand::Left),
            ];
            for (dx, dy, stand) in sides {
                let place = (at.0 + dx, at.1 + dy);
                let left = match stand {
                    Stand::Right => place.0,
                    Stand::Middle => place.0 - width / 2.0,
                    Stand::Left => place.0 - width,
                };
                let corners = ((left, place.1 - height * 0.55), (left + width, place.1 + height * 0.55));
                let cost = self.covered(corners) + f64::from(ring) * 1e-3;
                if cost < best.0 {
                    best = (cost, place, stand, corners);
                }
            }
            if best.0 < 0.5 {
                break;
            }
        }
        let (_, place, stand, (corner, far)) = best;
        self.take(corner, far);
        (place, stand)
    }

    /// Area covered, mm²; being outside the picture counts a hundredfold.
    fn covered(&self, (corner, far): (Mm, Mm)) -> f64 {
        let outside = (-corner.0).max(0.0)
            + (-corner.1).max(0.0)
            + (far.0 - self.width_mm).max(0.0)
            + (far.1 - self.height_mm).max(0.0);
        let shared = |(a, b): &(Mm, Mm)| {
            let across = far.0.min(b.0) - corner.0.max(a.0);
            let down = far.1.min(b.1) - corner.1.max(a.1);
            if across > 0.0 && down > 0.0 { across * down + 1.0 } else { 0.0 }
        };
        100.0 * outside + self.boxes.iter().map(shared).sum::<f64>()
    }
}
