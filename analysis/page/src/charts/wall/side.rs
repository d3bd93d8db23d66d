//! The side view of the wall diagram: travel to the right, one scale of length, one of force.

use super::pieces::{self, FLOOR_MM, FORCE, NAME, Region};
use super::styles::WallLine;
use crate::PageError;
use crate::charts::canvas::{Canvas, INK, Mm, Pen, Stand};
use crate::charts::labels::Occupied;
use crate::force_diagram::{Arrow, ForceDiagram, PointM};
use crate::wall_content::WallContent;

/// The longest force takes this share of the region's height, or less.
const LONGEST_FORCE: f64 = 0.42;

/// The view, fitted into its region.
pub struct Side<'c, 'a> {
    pub(super) canvas: &'c Canvas<'a>,
    pub(super) content: &'c WallContent,
    pub(super) region: Region,
    /// mm of paper a metre.
    pub mm_per_m: f64,
    /// mm of paper a newton.
    pub mm_per_n: f64,
    pub(super) origin: Mm,
}

impl<'c, 'a> Side<'c, 'a> {
    /// `None` if a number is not finite, or the body has no size or no force.
    pub fn of(canvas: &'c Canvas<'a>, content: &'c WallContent, region: Region) -> Option<Self> {
        let points: Vec<PointM> = std::iter::once(&content.now)
            .chain(content.after.as_ref())
            .flat_map(ForceDiagram::body_points)
            .collect();
        let sizes: Vec<f64> = content.forces().iter().map(|a| a.force.x_n.hypot(a.force.z_n)).collect();
        let largest_n = sizes.iter().copied().fold(0.0, f64::max);
        let span = |of: fn(&PointM) -> f64| {
            let values = points.iter().map(of);
            values.clone().fold(f64::NEG_INFINITY, f64::max) - values.fold(f64::INFINITY, f64::min)
        };
        let wide = span(|p| p.x_m);
        let finite = points.iter().all(|p| p.x_m.is_finite() && p.z_m.is_finite())
            && sizes.iter().all(|n| n.is_finite());
        if !(finite && (0.05..1e4).contains(&wide) && (1e-6..1e12).contains(&largest_n)) {
            return None;
        }
        let longest_mm = (region.height() * LONGEST_FORCE).min(region.width() / 5.0);
        let mm_per_n = longest_mm / largest_n;
        let mut view =
            Self { canvas, content, region, mm_per_m: region.width() / wide, mm_per_n, origin: (0.0, 0.0) };
        // Arrows keep their length while the body shrinks until both fit, with room for lettering.
        let (room_w, room_h) = (region.width() - 16.0, region.height() - 12.0);
        let smallest = view.mm_per_m * 0.1;
        let (mut low, mut high) = view.extent(&points);
        while (high.0 - low.0 > room_w || high.1 - low.1 > room_h) && view.mm_per_m > smallest {
            view.mm_per_m *= 0.97;
            (low, high) = view.extent(&points);
        }
        let middle = |corner: f64, far: f64, low: f64, high: f64| (corner + far - low - high) / 2.0;
        view.origin = (
            middle(region.corner.0, region.far.0, low.0, high.0),
            middle(region.corner.1, region.far.1, low.1, high.1),
        );
        Some(view)
    }

    fn extent(&self, points: &[PointM]) -> (Mm, Mm) {
        let arrows = self.arrows().into_iter().flat_map(|(from, to, _)| [from, to]);
        let start = ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
        points
            .iter()
            .map(|p| self.at(*p))
            .chain(arrows)
            .fold(start, |(a, b), p| ((a.0.min(p.0), a.1.min(p.1)), (b.0.max(p.0), b.1.max(p.1))))
    }

    pub(super) fn at(&self, p: PointM) -> Mm {
        (self.origin.0 + p.x_m * self.mm_per_m, self.origin.1 - p.z_m * self.mm_per_m)
    }

    /// Start, end and force of every arrow.
    pub fn arrows(&self) -> Vec<(Mm, Mm, &'c Arrow)> {
        let d = &self.content.now;
        let part = |arrow: &Arrow| (arrow.force.x_n * self.mm_per_n, -arrow.force.z_n * self.mm_per_n);
        let starting = |at: Mm, arrow: &'c Arrow| {
            let (dx, dy) = part(arrow);
            (at, (at.0 + dx, at.1 + dy), arrow)
        };
        let ending = |at: Mm, arrow: &'c Arrow| {
            let (dx, dy) = part(arrow);
            ((at.0 - dx, at.1 - dy), at, arrow)
        };
        vec![
            // The ground carries from below; the weight bears down from above the frame.
            ending(self.at(d.tail.contact), &d.tail_load),
            ending(self.at(d.front.contact), &d.front_load),
            ending((self.at(d.weight_at).0, self.beam_y() - 4.0), &d.weight),
            starting(self.at(d.soil_at), &d.soil),
            starting(self.at(self.pull_from()), &d.pull),
        ]
    }

    /// Where the pull's arrow begins: at the tractor's end, on the line of pull.
    fn pull_from(&self) -> PointM {
        let d = &self.content.now;
        if d.members.len() > 1 {
            let ends = d.members.iter().map(|member| member.1.x_m).fold(f64::NEG_INFINITY, f64::max);
            let slope = (d.tractor_hitch.z_m - d.plow_hitch.z_m) / (d.tractor_hitch.x_m - d.plow_hitch.x_m);
            let x_m = ends.max(d.plow_hitch.x_m);
            return PointM { x_m, z_m: d.plow_hitch.z_m + slope * (x_m - d.plow_hitch.x_m) };
        }
        d.tractor_hitch
    }

    /// Draws it.
    ///
    /// # Errors
    /// [`PageError::Chart`] if the back end fails.
    pub fn paint(&self) -> Result<(), PageError> {
        let mut taken = self.region.labels(self.canvas);
        self.travel(&mut taken)?;
        self.ground()?;
        self.body()?;
        self.take_ground(&mut taken);
        self.take_body(&mut taken);
        self.line_of_pull(&self.content.now, WallLine::PullNow, &mut taken)?;
        if let Some(after) = &self.content.after {
            self.line_of_pull(after, WallLine::PullAfter, &mut taken)?;
        }
        self.weight_and_soil(&mut taken)?;
        let offsets = self.offsets(&mut taken)?;
        let arrows = self.arrows();
        for (from, to, _) in &arrows {
            pieces::force(self.canvas, *from, *to)?;
            taken.take_line(*from, *to);
        }
        self.members()?;
        if let Some(steady) = self.content.now.steady {
            pieces::diamond(self.canvas, self.at(steady))?;
        }
        for (from, to, arrow) in arrows {
            // A load stands on its tip, the others are named along the way.
            let share = if to.1 < from.1 - (to.0 - from.0).abs() { 0.0 } else { 0.55 };
            let at = (from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share);
            pieces::name(self.canvas, &mut taken, &arrow.label, at, FORCE)?;
        }
        for (label, at) in offsets {
            pieces::name(self.canvas, &mut taken, &label, at, FORCE.sized(12.0))?;
        }
        self.names(&mut taken)
    }

    /// Which way it goes, in the upper right corner.
    fn travel(&self, taken: &mut Occupied) -> Result<(), PageError> {
        let (right, y) = (self.region.far.0 - 1.0, self.region.corner.1 + 3.0);
        self.canvas.arrow((right - 16.0, y), (right, y), Pen(INK, 1.0))?;
        self.canvas.text("travel", (right - 18.0, y), NAME.standing(Stand::Left))?;
        taken.take((right - 36.0, y - 2.5), (right, y + 2.5));
        Ok(())
    }

    fn line_of_pull(&self, d: &ForceDiagram, line: WallLine, taken: &mut Occupied) -> Result<(), PageError> {
        let Some((from, to)) = self.region.across(self.at(d.plow_hitch), self.at(d.tractor_hitch)) else {
            return Ok(());
        };
        taken.take_line(from, to);
        pieces::line(self.canvas, &[from, to], line)
    }

    fn weight_and_soil(&self, taken: &mut Occupied) -> Result<(), PageError> {
        let d = &self.content.now;
        // It ends a little below the furrow's floor and the steady point, so that there is room for names under it.
        let floor = self.ground_lines().1;
        let lowest = d.steady.map_or(floor, |steady| self.at(steady).1.max(floor));
        let foot = (lowest + FLOOR_MM + 1.5).min(self.region.far.1);
        let (x, top) = (self.at(d.weight_at).0, self.region.corner.1);
        pieces::line(self.canvas, &[(x, top), (x, foot)], WallLine::Weight)?;
        taken.take_line((x, top), (x, foot));
        let soil = self.at(d.soil_at);
        let ahead = (soil.0 - d.soil.force.x_n * self.mm_per_n, soil.1 + d.soil.force.z_n * self.mm_per_n);
        if let Some((from, to)) = self.region.across(soil, ahead) {
            taken.take_line(from, to);
            pieces::line(self.canvas, &[from, to], WallLine::Soil)?;
        }
        Ok(())
    }

    /// The bars of e, now on the weight line and after the move beside it; gives back what is written where.
    fn offsets(&self, taken: &mut Occupied) -> Result<Vec<(String, Mm)>, PageError> {
        let mut written = Vec::new();
        let views = [
            (Some(&self.content.now), WallLine::OffsetNow),
            (self.content.after.as_ref(), WallLine::OffsetAfter),
        ];
        for (d, line) in views {
            let Some((d, steady)) = d.and_then(|d| d.steady.map(|steady| (d, steady))) else { continue };
            let slope = (d.tractor_hitch.z_m - d.plow_hitch.z_m) / (d.tractor_hitch.x_m - d.plow_hitch.x_m);
            let crossing_z_m = d.plow_hitch.z_m + slope * (steady.x_m - d.plow_hitch.x_m);
            let beside = if line == WallLine::OffsetNow { 0.0 } else { 3.4 };
            let point = |z_m: f64| {
                let at = self.at(PointM { x_m: steady.x_m, z_m });
                (at.0 + beside, at.1.clamp(self.region.corner.1, self.region.far.1))
            };
            let (from, to) = (point(steady.z_m), point(crossing_z_m));
            pieces::line(self.canvas, &[from, to], line)?;
            taken.take_line(from, to);
            if line == WallLine::OffsetNow {
                taken.take((from.0 - 2.3, from.1 - 2.3), (from.0 + 2.3, from.1 + 2.3));
            }
            if let Some(label) = &d.offset_label {
                let when = match (self.content.after.is_some(), line) {
                    (false, _) => "",
                    (true, WallLine::OffsetNow) => "now ",
                    (true, _) => "after ",
                };
                written.push((format!("{when}{label}"), (from.0, (from.1 + to.1) / 2.0)));
            }
        }
        Ok(written)
    }

    fn names(&self, taken: &mut Occupied) -> Result<(), PageError> {
        let d = &self.content.now;
        let mut names = Vec::new();
        if d.members.len() > 1 {
            names.push(("links meet", d.plow_hitch));
        } else {
            names.extend([(d.tractor_hitch_name.as_str(), d.tractor_hitch), ("plow hitch", d.plow_hitch)]);
        }
        names.extend(d.steady.map(|steady| ("steady point", steady)));
        names.into_iter().try_for_each(|(text, at)| pieces::name(self.canvas, taken, text, self.at(at), NAME))
    }
}
