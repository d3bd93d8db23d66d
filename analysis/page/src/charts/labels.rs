//! Finds places for labels so that none covers another or leaves the picture, and none is struck by a line.

use super::canvas::{Canvas, Lettering, Mm, Stand};

/// Rings of places that are tried about a point: enough to get out of the thick of a small picture.
const RINGS: u32 = 24;
/// A leader that runs through another label is worse than any crowding, mm².
const LEADER_THROUGH_LABEL: f64 = 40.0;
/// Letters over letters are worse than over a line, mm².
const LETTERS_OVER_LETTERS: f64 = 20.0;
/// A place that costs less than this covers nothing.
const FREE: f64 = 0.5;
/// Bare paper between a leader and the letters that it leads to, mm.
const LEADER_GAP_MM: f64 = 0.7;

/// Where a label stands.
#[derive(Clone, Copy)]
pub struct Placed {
    /// Its point.
    pub at: Mm,
    /// How it stands about that point.
    pub stand: Stand,
    /// From what it names to the edge of its letters.
    leader: (Mm, Mm),
    /// Whether it covers nothing.
    pub free: bool,
}

impl Placed {
    /// The leader that a label needs which had to go farther than this, mm.
    pub fn leader(&self, farther_than_mm: f64) -> Option<(Mm, Mm)> {
        let ((x, y), _) = self.leader;
        ((self.at.0 - x).hypot(self.at.1 - y) > farther_than_mm).then_some(self.leader)
    }
}

/// Boxes already taken on a canvas, mm.
#[derive(Clone)]
pub struct Occupied {
    boxes: Vec<(Mm, Mm)>,
    /// Those of them that hold letters.
    labels: Vec<(Mm, Mm)>,
    width_mm: f64,
    height_mm: f64,
}

impl Occupied {
    /// A canvas with nothing on it.
    pub fn on(canvas: &Canvas) -> Self {
        Self { boxes: Vec::new(), labels: Vec::new(), width_mm: canvas.width_mm, height_mm: canvas.height_mm }
    }

    /// Marks a box as taken.
    pub fn take(&mut self, corner: Mm, far: Mm) {
        self.boxes.push((corner, far));
    }

    /// Marks the square about a point as taken.
    pub fn take_about(&mut self, (x, y): Mm, half_mm: f64) {
        self.take((x - half_mm, y - half_mm), (x + half_mm, y + half_mm));
    }

    /// Marks a straight line as taken, in small boxes along it.
    pub fn take_line(&mut self, from: Mm, to: Mm) {
        let steps = ((to.0 - from.0).hypot(to.1 - from.1) / 1.5).clamp(1.0, 200.0) as usize;
        for step in 0..=steps {
            let share = step as f64 / steps as f64;
            let at = (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
            self.take_about(at, 0.7);
        }
    }

    /// The best place for `text` about `at`, marked as taken.
    pub fn place(&mut self, text: &str, at: Mm, lettering: Lettering) -> Placed {
        let (placed, letters) = self.best(text, at, lettering);
        self.take_letters(letters);
        placed
    }

    /// The same for a name that may be left out: `None`, and nothing is marked, where no place is free.
    pub fn place_if_free(&mut self, text: &str, at: Mm, lettering: Lettering) -> Option<Placed> {
        let (placed, letters) = self.best(text, at, lettering);
        placed.free.then(|| self.take_letters(letters)).map(|()| placed)
    }

    /// The first free place of those around a point, ring by ring outwards; if none is free the one that covers least.
    fn best(&self, text: &str, at: Mm, lettering: Lettering) -> (Placed, (Mm, Mm)) {
        let (width, height) = (lettering.width_mm(text), lettering.height_mm());
        // Large letters need steps of their own size.
        let stretch = (lettering.size_pt / 8.0).max(1.0);
        let mut best: Option<(f64, Placed, (Mm, Mm))> = None;
        for ring in 0..RINGS {
            let gap = (1.4 + f64::from(ring) * 1.3) * stretch;
            let beside = [
                (gap, 0.0, Stand::Right),
                (-gap, 0.0, Stand::Left),
                (0.0, -gap - height * 0.4, Stand::Middle),
                (0.0, gap + height * 0.4, Stand::Middle),
                (gap, -gap, Stand::Right),
                (-gap, -gap, Stand::Left),
                (gap, gap, Stand::Right),
                (-gap, gap, Stand::Left),
            ];
            let between = [0.25, 0.5, 2.0, 4.0].into_iter().flat_map(|rise| {
                [-rise, rise]
                    .into_iter()
                    .flat_map(move |rise| [(gap, rise * gap, Stand::Right), (-gap, rise * gap, Stand::Left)])
            });
            let above_and_below = [-1.0, 1.0].into_iter().flat_map(|way| {
                let dy = way * (gap + height * 0.4);
                [(0.0, dy, Stand::Right), (0.0, dy, Stand::Left)]
            });
            for (dx, dy, stand) in beside.into_iter().chain(between).chain(above_and_below) {
                let place = (at.0 + dx, at.1 + dy);
                let (left, end) = match stand {
                    Stand::Right => (place.0, (place.0 - LEADER_GAP_MM, place.1)),
                    Stand::Left => (place.0 - width, (place.0 + LEADER_GAP_MM, place.1)),
                    Stand::Middle => {
                        let beyond = dy.signum() * (height * 0.6 + LEADER_GAP_MM);
                        (place.0 - width / 2.0, (place.0, place.1 - beyond))
                    }
                };
                let corners = ((left, place.1 - height * 0.55), (left + width, place.1 + height * 0.55));
                let struck = self.labels.iter().filter(|label| crosses((at, end), **label)).count();
                let over = self.labels.iter().filter(|label| shared(corners, **label).is_some()).count();
                let cost = self.covered(corners)
                    + LETTERS_OVER_LETTERS * over as f64
                    + LEADER_THROUGH_LABEL * struck as f64
                    + f64::from(ring) * 1e-3;
                if best.as_ref().is_none_or(|best| cost < best.0) {
                    let placed = Placed { at: place, stand, leader: (at, end), free: cost < FREE };
                    best = Some((cost, placed, corners));
                }
            }
            if best.as_ref().is_some_and(|best| best.1.free) {
                break;
            }
        }
        let nowhere = Placed { at, stand: Stand::Right, leader: (at, at), free: false };
        best.map_or((nowhere, (at, at)), |(_, placed, corners)| (placed, corners))
    }

    /// Marks a box of letters as taken.
    pub fn take_letters(&mut self, letters: (Mm, Mm)) {
        self.boxes.push(letters);
        self.labels.push(letters);
    }

    /// Area covered, mm²; being outside the picture counts a hundredfold.
    pub fn covered(&self, (corner, far): (Mm, Mm)) -> f64 {
        let outside = (-corner.0).max(0.0)
            + (-corner.1).max(0.0)
            + (far.0 - self.width_mm).max(0.0)
            + (far.1 - self.height_mm).max(0.0);
        100.0 * outside + self.boxes.iter().filter_map(|other| shared((corner, far), *other)).sum::<f64>()
    }
}

/// What two boxes that overlap share, mm², and 1 for that they do.
fn shared((corner, far): (Mm, Mm), (other, other_far): (Mm, Mm)) -> Option<f64> {
    let across = far.0.min(other_far.0) - corner.0.max(other.0);
    let down = far.1.min(other_far.1) - corner.1.max(other.1);
    (across > 0.0 && down > 0.0).then_some(across * down + 1.0)
}

/// Whether a straight line passes through a box.
pub fn crosses(line: (Mm, Mm), letters: (Mm, Mm)) -> bool {
    inside_share(line, letters).is_some_and(|(enters, leaves)| enters.max(0.0) < leaves.min(1.0))
}

/// Where the straight line through two points enters a box and leaves it, as shares of the way between them: what is
/// left of it between the sides, and then between top and bottom. `None` if it runs beside the box.
pub fn inside_share((from, to): (Mm, Mm), (corner, far): (Mm, Mm)) -> Option<(f64, f64)> {
    let (mut enters, mut leaves) = (f64::NEG_INFINITY, f64::INFINITY);
    for (start, step, low, high) in
        [(from.0, to.0 - from.0, corner.0, far.0), (from.1, to.1 - from.1, corner.1, far.1)]
    {
        if step.abs() < 1e-9 {
            if start <= low || start >= high {
                return None;
            }
            continue;
        }
        let (one, other) = ((low - start) / step, (high - start) / step);
        enters = enters.max(one.min(other));
        leaves = leaves.min(one.max(other));
    }
    Some((enters, leaves))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_through_a_box_is_told_from_one_beside_it() {
        let label = ((1.0, 1.0), (3.0, 2.0));
        assert!(crosses(((0.0, 0.0), (4.0, 3.0)), label));
        assert!(crosses(((2.0, 0.0), (2.0, 5.0)), label));
        assert!(!crosses(((0.0, 0.0), (4.0, 0.5)), label));
        assert!(!crosses(((0.0, 0.0), (0.9, 0.9)), label), "ends before it");
        assert!(!crosses(((0.5, 0.0), (0.5, 5.0)), label));
    }
}
