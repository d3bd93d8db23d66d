//! What is written in the free body: names with their leaders, and the scale bars.

use super::View;
use crate::PageError;
use crate::charts::canvas::{Dash, INK, Ink, LABEL, Lettering, MEASURED, Mm, PALE, PAPER, Pen, Stand};
use crate::charts::labels::{Occupied, Placed};
use crate::force_diagram::{PointM, ScaleBar};

/// A label farther than this from its place gets a leader to it, mm.
const LEADER_FROM_MM: f64 = 4.5;

impl View<'_, '_> {
    /// Names of points: where a small picture has no room for one it is left out, as the sign at the point remains.
    pub(super) fn names(&self, taken: &mut Occupied) -> Result<(), PageError> {
        let d = self.d;
        let small = LABEL.sized(7.0);
        let mut names: Vec<(&str, PointM)> =
            d.steady.map(|steady| ("steady point", steady)).into_iter().collect();
        if self.members_meet() {
            names.push(("links meet", d.plow_hitch));
        } else {
            names.extend([("plow hitch", d.plow_hitch), (d.tractor_hitch_name.as_str(), d.tractor_hitch)]);
        }
        for (text, at) in names {
            if let Some(placed) = taken.place_if_free(text, self.at(at), small) {
                self.written(taken, text, placed, small)?;
            }
        }
        Ok(())
    }

    pub(super) fn label(
        &self,
        taken: &mut Occupied,
        text: &str,
        at: Mm,
        lettering: Lettering,
    ) -> Result<(), PageError> {
        let placed = taken.place(text, at, lettering);
        self.written(taken, text, placed, lettering)
    }

    /// A label that had to go far gets a leader to what it names.
    pub(super) fn written(
        &self,
        taken: &mut Occupied,
        text: &str,
        placed: Placed,
        how: Lettering,
    ) -> Result<(), PageError> {
        if let Some((from, to)) = placed.leader(LEADER_FROM_MM) {
            self.canvas.line(&[from, to], Pen(INK, 0.35), Dash::Solid)?;
            taken.take_line(from, to);
        }
        self.canvas.text(text, placed.at, how.standing(placed.stand))
    }

    pub(super) fn bars(&self) -> Result<(), PageError> {
        let middle = self.canvas.height_mm - 2.0;
        self.canvas.fill_box((0.0, middle - 2.3), (self.canvas.width_mm, self.canvas.height_mm), PAPER)?;
        self.canvas.line(
            &[(0.0, middle - 2.3), (self.canvas.width_mm, middle - 2.3)],
            Pen(PALE, 0.6),
            Dash::Solid,
        )?;
        let length = self.bar(&self.d.length_scale, self.mm_per_m, 2.0, middle, INK)?;
        self.bar(&self.d.force_scale, self.mm_per_n, length + 8.0, middle, MEASURED)?;
        let travel = self.canvas.width_mm - 2.0;
        self.canvas.arrow((travel - 8.0, middle), (travel, middle), Pen(INK, 1.2))?;
        self.canvas.text("travel", (travel - 9.0, middle), LABEL.standing(Stand::Left))
    }

    /// Draws a bar and gives back where its label ends.
    fn bar(&self, bar: &ScaleBar, scale: f64, left: f64, middle: f64, ink: Ink) -> Result<f64, PageError> {
        let length = bar.size * scale;
        // A bar that would not fit says nothing; the caller chose its size.
        if !(length > 0.5 && length < self.canvas.width_mm * 0.35) {
            return Ok(left);
        }
        self.canvas.line(&[(left, middle), (left + length, middle)], Pen(ink, 1.2), Dash::Solid)?;
        for end in [left, left + length] {
            self.canvas.line(&[(end, middle - 1.0), (end, middle + 1.0)], Pen(ink, 1.2), Dash::Solid)?;
        }
        let words = LABEL.standing(Stand::Right);
        self.canvas.text(&bar.label, (left + length + 1.2, middle), words)?;
        Ok(left + length + 1.2 + words.width_mm(&bar.label))
    }
}
