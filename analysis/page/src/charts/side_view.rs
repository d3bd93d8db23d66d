//! Plow and ground in the side view, to one scale of length and one of force, wherever it is drawn. Travel is to the
//! right.

use super::canvas::{Canvas, GREY, Ink, Mm, Pen, WASH};
use super::labels::Occupied;
use super::region::Region;
use super::supports;
use crate::Result;
use crate::force_diagram::{ForceDiagram, ForceN, PointM, Support, SupportLook};

/// How large its parts are drawn, mm on the paper but for the pens.
pub struct Sizes {
    /// Pen of frame and standards.
    pub frame: Pen,
    /// Width of a wheel's rim, pt, and radius of its hub.
    pub wheel: (f64, f64),
    /// Half the length, height and color of a sole.
    pub sole: (f64, f64, Ink),
    /// Radius and pen of a pin that carries.
    pub pin: (f64, Pen),
    /// Height of the hatching under the furrow's floor, and its step.
    pub hatching: (f64, f64),
    /// Pens of the furrow's floor, and of land and furrow wall.
    pub ground: (Pen, Pen),
    /// Half the room kept free about floor and furrow wall, about the land, and about the pins of a drawbar.
    pub clear: (f64, f64, f64),
    /// Least half length that labels keep off a support.
    pub support: f64,
    /// Margin between the region and the drawing.
    pub margin: Mm,
}

/// A free body fitted into a region.
#[derive(Clone, Copy)]
pub struct SideView<'c, 'a> {
    pub canvas: &'c Canvas<'a>,
    pub d: &'c ForceDiagram,
    pub region: Region,
    pub sizes: &'c Sizes,
    /// mm of paper a metre.
    pub mm_per_m: f64,
    /// mm of paper a newton.
    pub mm_per_n: f64,
    /// Place of x = 0, z = 0.
    origin: Mm,
}

impl<'c, 'a> SideView<'c, 'a> {
    /// With the longest force `longest_mm` long; the body as large as it can be with `points` and `arrows` in the
    /// region, from the size at which it alone would fill `largest` down to a share of that. `None` if a number is not finite,
    /// or the body has no size or no force.
    pub fn of(
        (canvas, d): (&'c Canvas<'a>, &'c ForceDiagram),
        (region, sizes): (Region, &'c Sizes),
        points: &[PointM],
        (longest_mm, largest, smallest_share): (f64, Region, f64),
        arrows: impl Fn(&Self) -> Vec<(Mm, Mm)>,
    ) -> Option<Self> {
        let forces = d.forces().map(|arrow| arrow.force);
        let finite = points.iter().all(|p| p.x_m.is_finite() && p.z_m.is_finite())
            && forces.iter().all(|f| f.x_n.is_finite() && f.z_n.is_finite())
            && d.depth_m.is_finite()
            && d.length_scale.size > 0.0
            && d.force_scale.size > 0.0;
        let largest_n = forces.iter().map(|f| f.x_n.hypot(f.z_n)).fold(0.0, f64::max);
        let span = |of: fn(&PointM) -> f64| {
            let values = points.iter().map(of);
            values.clone().fold(f64::NEG_INFINITY, f64::max) - values.fold(f64::INFINITY, f64::min)
        };
        let (wide_m, high_m) = (span(|p| p.x_m), span(|p| p.z_m));
        let has_size = (0.05..1e4).contains(&wide_m) && (0.0..1e4).contains(&high_m);
        if !(finite && has_size && (1e-6..1e12).contains(&largest_n)) {
            return None;
        }
        let mm_per_m = (largest.width() / wide_m).min(largest.height() / high_m.max(0.05));
        let mm_per_n = longest_mm / largest_n;
        let view = Self { canvas, d, region, sizes, mm_per_m, mm_per_n, origin: (0.0, 0.0) };
        // The arrows keep their length while the body shrinks until both fit together.
        let (mm_per_m, origin) =
            region.within(sizes.margin).fit(mm_per_m, mm_per_m * smallest_share, |mm_per_m| {
                let view = Self { mm_per_m, ..view };
                let arrows = arrows(&view).into_iter().flat_map(|(from, to)| [from, to]);
                points.iter().map(move |p| view.at(*p)).chain(arrows)
            });
        Some(Self { mm_per_m, origin, ..view })
    }

    pub fn at(&self, p: PointM) -> Mm {
        (self.origin.0 + p.x_m * self.mm_per_m, self.origin.1 - p.z_m * self.mm_per_m)
    }

    /// Where an arrow of a force ends that begins at a place.
    pub fn tip(&self, from: Mm, force: ForceN) -> Mm {
        (from.0 + force.x_n * self.mm_per_n, from.1 - force.z_n * self.mm_per_n)
    }

    /// Height of the furrow bottom on the paper.
    pub fn floor_y(&self) -> f64 {
        self.origin.1 + self.d.depth_m.max(0.0) * self.mm_per_m
    }

    /// Links of which the lines of force meet away from the plow.
    pub fn links_meet(&self) -> bool {
        self.d.members.len() > 1
    }

    /// Where the frame begins: the pin of the drawbar, or of the highest link.
    pub fn plow_pin(&self) -> Mm {
        let pins = self.d.members.iter().map(|member| member.0);
        self.at(pins.max_by(|a, b| a.z_m.total_cmp(&b.z_m)).unwrap_or(self.d.plow_hitch))
    }

    /// Height on the paper of a hub, or of what carries without one.
    fn hub_y(&self, support: Support) -> f64 {
        self.at(support.contact).1 - support.height_m() / 2.0 * self.mm_per_m
    }

    /// Height of the frame on the paper: above hub and hitch.
    pub fn beam_y(&self) -> f64 {
        let pin_y = self.plow_pin().1;
        if self.d.front.look == SupportLook::Pin { pin_y } else { self.hub_y(self.d.front).min(pin_y) }
    }

    /// Names of points: the steady point, what is at the plow's end, and what is at the tractor's.
    pub fn names(&self) -> [Option<(&'c str, PointM)>; 3] {
        let d = self.d;
        let steady = d.steady.map(|steady| ("steady point", steady));
        if self.links_meet() {
            return [steady, Some(("links meet", d.plow_hitch)), None];
        }
        let tractor = (d.tractor_hitch_name.as_str(), d.tractor_hitch);
        [steady, Some(("plow hitch", d.plow_hitch)), Some(tractor)]
    }

    /// Where the line of the weight ends: a little below the furrow's floor and the steady point, so that there is room
    /// for names under it.
    pub fn weight_foot_y(&self, below_mm: f64) -> f64 {
        let lowest = self.d.steady.map_or(self.floor_y(), |steady| self.at(steady).1.max(self.floor_y()));
        (lowest + self.sizes.hatching.0 + below_mm).min(self.region.far.1)
    }

    /// Land, furrow and what lies below it; the furrow wall is at `step_x`.
    pub fn ground(&self, step_x: f64) -> Result {
        let (left, right) = (self.region.corner.0, self.region.far.0);
        let (land, floor) = (self.origin.1, self.floor_y());
        let ((high_mm, step_mm), (floor_pen, land_pen)) = (self.sizes.hatching, self.sizes.ground);
        self.canvas.fill_box((step_x, land), (right, floor), WASH)?;
        self.canvas.hatch(((left, floor), (right, floor + high_mm)), step_mm, Pen(GREY, 0.5))?;
        self.canvas.line(&[(left, floor), (right, floor)], floor_pen)?;
        self.canvas.line(&[(step_x, floor), (step_x, land), (right, land)], land_pen)
    }

    /// Keeps labels off the land's surface, the furrow wall and the floor with its hatching.
    pub fn take_ground(&self, step_x: f64, taken: &mut Occupied) {
        let (left, right) = (self.region.corner.0, self.region.far.0);
        let (land, floor, (edge, surface, _)) = (self.origin.1, self.floor_y(), self.sizes.clear);
        taken.take((left, floor - edge), (right, floor + self.sizes.hatching.0 + 0.2));
        taken.take((step_x - edge, land), (step_x + edge, floor));
        taken.take((step_x, land - surface), (right, land + surface));
    }

    /// The lines from the frame down to the hubs.
    fn legs(&self) -> Vec<[Mm; 2]> {
        let front_has_one = !matches!(self.d.front.look, SupportLook::Pin | SupportLook::Sole);
        let supports = [Some(self.d.tail), front_has_one.then_some(self.d.front)].into_iter().flatten();
        let leg = |of: Support| [self.beam_y(), self.hub_y(of)].map(|y| (self.at(of.contact).0, y));
        supports.map(leg).collect()
    }

    /// The frame, as far as `rear_x` on the paper, and what holds its wheels.
    pub fn frame(&self, rear_x: f64) -> Result {
        let (pin, beam_y) = (self.plow_pin(), self.beam_y());
        let front_x = match self.d.front.look {
            SupportLook::Pin => pin.0,
            _ => self.at(self.d.front.contact).0.min(pin.0),
        };
        self.canvas.line(&[pin, (front_x, beam_y), (rear_x, beam_y)], self.sizes.frame)?;
        self.legs().iter().try_for_each(|leg| self.canvas.line(leg, self.sizes.frame))
    }

    /// What carries the plow, but for the share's point that carries in front one which slides: that is drawn already.
    pub fn supports(&self) -> Result {
        if self.d.front.look != SupportLook::Sole {
            self.support(self.d.front)?;
        }
        self.support(self.d.tail)
    }

    fn support(&self, support: Support) -> Result {
        let (contact, long_mm) = (self.at(support.contact), support.diameter_m() * self.mm_per_m);
        let (pen_pt, hub_mm) = self.sizes.wheel;
        match support.look {
            SupportLook::Wheel { .. } => supports::wheel(self.canvas, contact, long_mm, pen_pt, hub_mm),
            SupportLook::RollingLandside => {
                let high_mm = support.height_m() * self.mm_per_m;
                supports::inclined_wheel(self.canvas, contact, (long_mm, high_mm), pen_pt)
            }
            SupportLook::Sole => supports::sole(self.canvas, contact, self.sizes.sole),
            SupportLook::Pin => supports::pin(self.canvas, contact, self.sizes.pin),
        }
    }

    /// Keeps labels off drawbar or links, wheels and frame.
    pub fn take_body(&self, taken: &mut Occupied) {
        for (plow, tractor) in &self.d.members {
            let ends = [self.at(*plow), self.at(*tractor)];
            taken.take_line(ends[0], ends[1]);
            for end in ends {
                taken.take_about(end, self.sizes.clear.2);
            }
            if self.links_meet() {
                taken.take_line(ends[1], self.at(self.d.plow_hitch));
            }
        }
        for support in [self.d.front, self.d.tail] {
            let (x, y) = self.at(support.contact);
            let half = (support.diameter_m() / 2.0 * self.mm_per_m).max(self.sizes.support);
            let high = (support.height_m() * self.mm_per_m).max(2.0 * self.sizes.support);
            taken.take((x - half, y - high), (x + half, y));
        }
        taken.take_line((self.at(self.d.tail.contact).0, self.beam_y()), self.plow_pin());
        self.legs().iter().for_each(|[from, to]| taken.take_line(*from, *to));
    }
}
