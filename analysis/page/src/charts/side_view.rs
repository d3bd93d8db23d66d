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
    /// Height of a spring over a wheel, half its width, and its pen in pt.
    pub spring: (f64, f64, f64),
    /// Half the length of a share: so much of a metre, and no more than this on the paper.
    pub share: (f64, f64),
    /// A force that would be shorter than this is drawn so long.
    pub shortest: f64,
    /// Margin between the region and the drawing.
    pub margin: Mm,
}

/// A force under this is none, N.
const LEAST_N: f64 = 1.0;
/// Most bottoms that are drawn.
const BOTTOMS_MAX: usize = 12;

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

    /// Where an arrow of a force ends that begins at a place. Found on a page that named a load of 63 lbf and showed no
    /// arrow: one that is too short to be seen is drawn longer; a force of nothing has none.
    pub fn tip(&self, from: Mm, force: ForceN) -> Mm {
        let mm = self.mm_per_n * self.lengthened(force).unwrap_or(1.0);
        (from.0 + force.x_n * mm, from.1 - force.z_n * mm)
    }

    /// How many times too long a force is drawn, if it is.
    fn lengthened(&self, force: ForceN) -> Option<f64> {
        let length_mm = force.x_n.hypot(force.z_n) * self.mm_per_n;
        let seen = force.x_n.hypot(force.z_n) >= LEAST_N && length_mm < self.sizes.shortest;
        seen.then(|| self.sizes.shortest / length_mm)
    }

    /// Whether an arrow is longer than the scale has it.
    pub fn has_lengthened(&self) -> bool {
        self.d.forces().iter().any(|arrow| self.lengthened(arrow.force).is_some())
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
        let beam_y =
            if self.d.front.look == SupportLook::Pin { pin_y } else { self.hub_y(self.d.front).min(pin_y) };
        self.spring_foot().map_or(beam_y, |foot| beam_y.min(foot.1 - self.sizes.spring.0))
    }

    /// Where the spring of the tail wheel ends, if it has one: on top of the wheel.
    fn spring_foot(&self) -> Option<Mm> {
        let tail = self.d.tail;
        let sprung = matches!(tail.look, SupportLook::Wheel { sprung: true, .. });
        let (x, y) = self.at(tail.contact);
        sprung.then(|| (x, y - tail.height_m() * self.mm_per_m))
    }

    /// Half the length of a share on the paper, and the points of all shares, the foremost last. How far the bottoms stand
    /// apart is not in the description: they are a sign, spread evenly about the place of the soil force, behind front
    /// wheels, which run on land that is not cut yet. A plow that slides is carried in front by the point of its share.
    pub fn shares(&self) -> (f64, Vec<Mm>) {
        let d = self.d;
        let half = (self.sizes.share.0 * self.mm_per_m).min(self.sizes.share.1);
        let count = d.bottoms.clamp(1, BOTTOMS_MAX);
        let (middle, tail) = (self.at(d.soil_at).0, self.at(d.tail.contact).0);
        let spread = (middle - tail).abs();
        let ahead = match d.front.look {
            SupportLook::Wheel { .. } => (self.at(d.front.contact).0 - middle - 2.0 * half).max(half),
            SupportLook::RollingLandside | SupportLook::Sole | SupportLook::Pin => spread,
        };
        let spread = spread.min(2.0 * ahead);
        let step = if count > 1 { spread / (count as f64 - 1.0) } else { 0.0 };
        let half = if count > 1 { half.min(step * 0.42) } else { half };
        let foremost = match d.front.look {
            SupportLook::Sole => self.at(d.front.contact).0,
            _ => middle + half + step * (count as f64 - 1.0) / 2.0,
        };
        let first = foremost - step * (count as f64 - 1.0);
        (half, (0..count).map(|i| (first + step * i as f64, self.floor_y())).collect())
    }

    /// Draws the bottoms with what holds them to the frame.
    pub fn bottoms(&self, ink: Ink) -> Result {
        let (half, shares) = self.shares();
        shares.iter().try_for_each(|point| {
            self.canvas.line(&self.standard(half, *point), self.sizes.frame)?;
            bottom(self.canvas, *point, half, ink)
        })
    }

    /// From the frame down to a share with this point.
    fn standard(&self, half: f64, point: Mm) -> [Mm; 2] {
        [self.beam_y(), point.1].map(|y| (point.0 - 1.5 * half, y))
    }

    /// Keeps labels off the bottoms.
    pub fn take_bottoms(&self, taken: &mut Occupied) {
        let (half, shares) = self.shares();
        for point in shares {
            taken.take((point.0 - 2.0 * half, point.1 - 1.3 * half), point);
            let [from, to] = self.standard(half, point);
            taken.take_line(from, to);
        }
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
        let tail = self.spring_foot().is_none().then_some(self.d.tail);
        let supports = [tail, front_has_one.then_some(self.d.front)].into_iter().flatten();
        let leg = |of: Support| [self.beam_y(), self.hub_y(of)].map(|y| (self.at(of.contact).0, y));
        supports.map(leg).collect()
    }

    /// The frame from its pin to `rear_x` on the paper.
    fn beam(&self, rear_x: f64) -> [Mm; 3] {
        let (pin, beam_y) = (self.plow_pin(), self.beam_y());
        let front_x = match self.d.front.look {
            SupportLook::Pin => pin.0,
            _ => self.at(self.d.front.contact).0.min(pin.0),
        };
        [pin, (front_x, beam_y), (rear_x, beam_y)]
    }

    /// The frame, as far as `rear_x` on the paper, and what holds its wheels.
    pub fn frame(&self, rear_x: f64) -> Result {
        let beam_y = self.beam_y();
        self.canvas.line(&self.beam(rear_x), self.sizes.frame)?;
        self.legs().iter().try_for_each(|leg| self.canvas.line(leg, self.sizes.frame))?;
        let Some(foot) = self.spring_foot() else { return Ok(()) };
        let (_, half, pen_pt) = self.sizes.spring;
        supports::spring(self.canvas, ((foot.0, beam_y), foot), half, pen_pt)
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
        let [pin, front, rear] = self.beam(self.at(self.d.tail.contact).0);
        taken.take_line(pin, front);
        taken.take_line(front, rear);
        self.legs().iter().for_each(|[from, to]| taken.take_line(*from, *to));
        if let Some((x, y)) = self.spring_foot() {
            let half = self.sizes.spring.1;
            taken.take((x - half, self.beam_y()), (x + half, y));
        }
    }
}

/// A bottom: its share with the point ahead (to the right) on the furrow bottom, `half_mm` long each way.
pub fn bottom(canvas: &Canvas, (x, y): Mm, half_mm: f64, ink: Ink) -> Result {
    let rear = x - 2.0 * half_mm;
    canvas.fill(&[(x, y), (rear, y), (rear + half_mm * 0.3, y - half_mm * 1.3)], ink)
}
