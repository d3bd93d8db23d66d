//! The free body in the side view: plow, drawbar and ground to one scale of length, forces to one scale of
//! force. Travel is to the right. The line of pull and the line of the soil force meet the weight line one
//! above the other: their distance there is the pull-line offset e.

mod letters;

use super::canvas::{self, Canvas, Dash, GREY, INK, LABEL, MEASURED, Mm, PAPER, Pen};
use super::labels::Occupied;
use super::{Size, blank_on, wheels};
use crate::PageError;
use crate::force_diagram::{Arrow, ForceDiagram, PointM, Support, SupportLook};

/// Room about the drawing, mm.
const EDGE_MM: f64 = 3.0;
/// Height of the hatching under the furrow's floor.
const FLOOR_MM: f64 = 1.6;
/// Beside the shares where they come first.
const SHARES: &str = "shares: see to these";
/// For the scale bars at the bottom.
const BARS_MM: f64 = 4.5;
/// The longest force is drawn over this share of the height, or two ninths of the width if that is less.
const LONGEST_FORCE: f64 = 0.6;

/// Draws the diagram.
///
/// # Errors
/// [`PageError::Chart`] if the back end fails.
pub fn draw(diagram: Option<&ForceDiagram>, size: Size) -> Result<String, PageError> {
    canvas::picture(size.width_mm, size.height_mm, |canvas| match diagram.and_then(|d| View::of(canvas, d)) {
        Some(view) => view.paint(),
        None => blank_on(canvas, "forces: not shown"),
    })
}

struct View<'c, 'a> {
    canvas: &'c Canvas<'a>,
    d: &'c ForceDiagram,
    /// mm of paper a metre.
    mm_per_m: f64,
    /// mm of paper a newton.
    mm_per_n: f64,
    /// Place of x = 0, z = 0.
    origin: Mm,
}

impl<'c, 'a> View<'c, 'a> {
    /// `None` if a number is not finite, or the body has no size or no force.
    fn of(canvas: &'c Canvas<'a>, d: &'c ForceDiagram) -> Option<Self> {
        let points = body_points(d);
        let forces = [&d.weight, &d.pull, &d.soil, &d.front_load, &d.tail_load];
        let finite = points.iter().all(|p| p.x_m.is_finite() && p.z_m.is_finite())
            && forces.iter().all(|f| f.force.x_n.is_finite() && f.force.z_n.is_finite())
            && d.depth_m.is_finite()
            && d.length_scale.size > 0.0
            && d.force_scale.size > 0.0;
        let largest_n = forces.iter().map(|f| f.force.x_n.hypot(f.force.z_n)).fold(0.0, f64::max);
        let ends = |of: fn(&PointM) -> f64| {
            points.iter().map(of).fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| (a.min(v), b.max(v)))
        };
        let ((x_low, x_high), (z_low, z_high)) = (ends(|p| p.x_m), ends(|p| p.z_m));
        let (wide, high) = (x_high - x_low, z_high - z_low);
        if !(finite
            && (0.05..1e4).contains(&wide)
            && (0.0..1e4).contains(&high)
            && (1e-6..1e12).contains(&largest_n))
        {
            return None;
        }
        let longest_mm = (canvas.height_mm * LONGEST_FORCE).min(canvas.width_mm / 4.5);
        let mut view =
            Self { canvas, d, mm_per_m: 0.0, mm_per_n: longest_mm / largest_n, origin: (0.0, 0.0) };
        let (room_w, room_h) = (canvas.width_mm - 2.0 * EDGE_MM, canvas.height_mm - 2.0 * EDGE_MM - BARS_MM);
        // The arrows keep their length while the body shrinks until both fit together.
        view.mm_per_m = (room_w / wide).min(room_h / high.max(0.05));
        let smallest = view.mm_per_m * 0.2;
        let (mut corner, mut far) = view.extent(&points);
        while (far.0 - corner.0 > room_w || far.1 - corner.1 > room_h) && view.mm_per_m > smallest {
            view.mm_per_m *= 0.97;
            (corner, far) = view.extent(&points);
        }
        view.origin = (
            EDGE_MM + (room_w - (far.0 - corner.0)) / 2.0 - corner.0,
            EDGE_MM + (room_h - (far.1 - corner.1)) / 2.0 - corner.1,
        );
        Some(view)
    }

    /// Corners of the box about body and arrows, mm, with the origin where it is.
    fn extent(&self, points: &[PointM]) -> (Mm, Mm) {
        let arrows = self.arrows().into_iter().flat_map(|(from, to, ..)| [from, to]);
        let all = points.iter().map(|p| self.at(*p)).chain(arrows);
        let start = ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
        all.fold(start, |(a, b), p| ((a.0.min(p.0), a.1.min(p.1)), (b.0.max(p.0), b.1.max(p.1))))
    }

    fn at(&self, p: PointM) -> Mm {
        (self.origin.0 + p.x_m * self.mm_per_m, self.origin.1 - p.z_m * self.mm_per_m)
    }

    fn paint(&self) -> Result<(), PageError> {
        let mut taken = Occupied::on(self.canvas);
        taken.take((0.0, self.canvas.height_mm - BARS_MM), (self.canvas.width_mm, self.canvas.height_mm));
        self.ground()?;
        self.body()?;
        self.take_ground(&mut taken);
        self.take_body(&mut taken);
        let offset_at = self.lines(&mut taken)?;
        self.forces(&mut taken)?;
        if self.d.shares_first {
            let at = (self.share_tip_x(), self.floor_y());
            self.label(&mut taken, SHARES, at, LABEL.bold().sized(9.0))?;
        }
        if let (Some(label), Some(at)) = (&self.d.offset_label, offset_at) {
            self.label(&mut taken, label, at, LABEL.bold())?;
        }
        self.names(&mut taken)?;
        self.bars()
    }

    fn ground(&self) -> Result<(), PageError> {
        let land = self.origin.1;
        let floor = self.floor_y();
        let step = self.share_tip_x();
        let right = self.canvas.width_mm;
        self.canvas.fill_box((step, land), (right, floor), canvas::WASH)?;
        self.canvas.hatch(((0.0, floor), (right, floor + FLOOR_MM)), 1.4, Pen(GREY, 0.5))?;
        self.canvas.line(&[(0.0, floor), (right, floor)], Pen(GREY, 0.6), Dash::Solid)?;
        self.canvas.line(&[(step, floor), (step, land), (right, land)], Pen(GREY, 0.8), Dash::Solid)
    }

    /// Keeps labels off the land's surface, the furrow wall and the floor with its hatching.
    fn take_ground(&self, taken: &mut Occupied) {
        let (land, floor, step) = (self.origin.1, self.floor_y(), self.share_tip_x());
        let right = self.canvas.width_mm;
        taken.take((0.0, floor - 0.3), (right, floor + FLOOR_MM + 0.2));
        taken.take((step - 0.3, land), (step + 0.3, floor));
        taken.take((step, land - 0.4), (right, land + 0.4));
    }

    fn support(&self, support: Support) -> Result<(), PageError> {
        let (contact, long_mm) = (self.at(support.contact), support.diameter_m() * self.mm_per_m);
        match support.look {
            SupportLook::Wheel { .. } => wheels::wheel(self.canvas, contact, long_mm, 1.1, 0.6),
            SupportLook::RollingLandside => {
                let high_mm = support.height_m() * self.mm_per_m;
                wheels::inclined_wheel(self.canvas, contact, (long_mm, high_mm), 1.1)
            }
            SupportLook::Sole => {
                let (x, y) = contact;
                let shoe = [(x + 4.0, y), (x - 4.0, y), (x - 3.0, y - 1.8), (x + 1.0, y - 1.8)];
                self.canvas.fill(&shoe, canvas::STEEL)
            }
            SupportLook::Pin => {
                self.canvas.disc(contact, 1.3, PAPER)?;
                self.canvas.ring(contact, 1.3, Pen(INK, 1.0))
            }
        }
    }

    fn body(&self) -> Result<(), PageError> {
        let d = self.d;
        let (hitch, soil) = (self.at(self.plow_pin()), self.at(d.soil_at));
        let front_hub_y = self.hub_y(d.front);
        let beam_y = self.beam_y();
        let (front_x, tail) = (self.at(d.front.contact).0, self.at(d.tail.contact));
        let steel = Pen(canvas::STEEL, 2.6);
        let frame = [hitch, (front_x.min(hitch.0), beam_y), (tail.0, beam_y)];
        self.canvas.line(&frame, steel, Dash::Solid)?;
        self.canvas.line(&[(tail.0, beam_y), (tail.0, self.hub_y(d.tail))], steel, Dash::Solid)?;
        if !matches!(d.front.look, SupportLook::Pin | SupportLook::Sole) {
            self.canvas.line(&[(front_x, beam_y), (front_x, front_hub_y)], steel, Dash::Solid)?;
        }
        // A share, as a sign for the bottoms: its point ahead of where the soil force acts.
        let length = self.share_mm();
        let (floor, tip_x) = (self.floor_y(), self.share_tip_x());
        let (from, to) = self.strut();
        self.canvas.line(&[from, to], steel, Dash::Solid)?;
        self.canvas.fill(
            &[(tip_x, floor), (tip_x - length * 2.0, floor), (tip_x - length * 1.5, soil.1.min(floor - 1.0))],
            if d.shares_first { INK } else { canvas::STEEL },
        )?;
        // A plow that slides is carried in front by the point of its share, which is drawn already.
        if d.front.look != SupportLook::Sole {
            self.support(d.front)?;
        }
        self.support(d.tail)?;
        for member in &d.members {
            let ends = [self.at(member.0), self.at(member.1)];
            if self.members_meet() {
                self.canvas.line(&[ends[0], hitch], steel, Dash::Solid)?;
                self.canvas.line(
                    &[ends[1], self.at(d.plow_hitch)],
                    Pen(GREY, 0.6),
                    Dash::Broken(1.6, 1.0),
                )?;
            }
            self.canvas.line(&ends, Pen(PAPER, 3.4), Dash::Solid)?;
            self.canvas.line(&ends, Pen(INK, 1.6), Dash::Solid)?;
            for pin in ends {
                self.canvas.disc(pin, 0.95, PAPER)?;
                self.canvas.ring(pin, 0.95, Pen(INK, 1.0))?;
            }
        }
        Ok(())
    }

    /// Links of which the lines of force meet away from the plow.
    fn members_meet(&self) -> bool {
        self.d.members.len() > 1
    }

    /// Where the frame begins: the pin of the drawbar, or of the highest link.
    fn plow_pin(&self) -> PointM {
        let pins = self.d.members.iter().map(|member| member.0);
        pins.max_by(|a, b| a.z_m.total_cmp(&b.z_m)).unwrap_or(self.d.plow_hitch)
    }

    /// Height on the paper of a hub, or of what carries without one.
    fn hub_y(&self, support: Support) -> f64 {
        self.at(support.contact).1 - support.height_m() / 2.0 * self.mm_per_m
    }

    /// Keeps labels off the drawbar, the wheels and the frame.
    fn take_body(&self, taken: &mut Occupied) {
        let d = self.d;
        for (plow, tractor) in &d.members {
            let (plow, tractor) = (self.at(*plow), self.at(*tractor));
            taken.take_line(plow, tractor);
            for (x, y) in [plow, tractor] {
                taken.take((x - 1.2, y - 1.2), (x + 1.2, y + 1.2));
            }
            if self.members_meet() {
                taken.take_line(plow, self.at(self.plow_pin()));
                taken.take_line(tractor, self.at(d.plow_hitch));
            }
        }
        for support in [d.front, d.tail] {
            let (x, y) = self.at(support.contact);
            let radius = support.diameter_m() / 2.0 * self.mm_per_m;
            taken.take((x - radius, y - support.height_m() * self.mm_per_m), (x + radius, y));
        }
        let (weight_x, tail_x) = (self.at(d.weight_at).0, self.at(d.tail.contact).0);
        let beam_y = self.beam_y();
        taken.take_line((tail_x, beam_y), self.at(self.plow_pin()));
        let (from, to) = self.strut();
        taken.take_line(from, to);
        taken.take_line((weight_x, 1.0), (weight_x, self.weight_foot_y()));
        taken.take_line((tail_x, beam_y), (tail_x, self.hub_y(d.tail)));
        if !matches!(d.front.look, SupportLook::Pin | SupportLook::Sole) {
            let front_x = self.at(d.front.contact).0;
            taken.take_line((front_x, beam_y), (front_x, self.hub_y(d.front)));
        }
    }

    /// Where the line of the weight ends: a little below the furrow's floor and the steady point, so that there is room
    /// for names under it.
    fn weight_foot_y(&self) -> f64 {
        let lowest = self.d.steady.map_or(self.floor_y(), |steady| self.at(steady).1.max(self.floor_y()));
        (lowest + FLOOR_MM + 1.0).min(self.canvas.height_mm - BARS_MM)
    }

    /// Half the length of the share on the paper.
    fn share_mm(&self) -> f64 {
        (0.18 * self.mm_per_m).min(6.0)
    }

    /// Where the share's point is on the paper: land before it, open furrow behind it. A plow that slides is
    /// carried there; else it is ahead of where the soil force acts.
    fn share_tip_x(&self) -> f64 {
        match self.d.front.look {
            SupportLook::Sole => self.at(self.d.front.contact).0,
            _ => self.at(self.d.soil_at).0 + self.share_mm(),
        }
    }

    /// Height of the furrow bottom on the paper.
    fn floor_y(&self) -> f64 {
        self.origin.1 + self.d.depth_m.max(0.0) * self.mm_per_m
    }

    /// The strut from the frame down to the share.
    fn strut(&self) -> (Mm, Mm) {
        let (x, length) = (self.share_tip_x(), self.share_mm());
        ((x - length * 1.5, self.beam_y()), (x - length * 1.3, self.floor_y()))
    }

    /// Height of the frame on the paper: above hub and hitch.
    fn beam_y(&self) -> f64 {
        let pin_y = self.at(self.plow_pin()).1;
        if self.d.front.look == SupportLook::Pin { pin_y } else { self.hub_y(self.d.front).min(pin_y) }
    }

    /// The lines of action, the weight line, the steady point; gives back where e is to be written.
    fn lines(&self, taken: &mut Occupied) -> Result<Option<Mm>, PageError> {
        let d = self.d;
        let weight_x = self.at(d.weight_at).0;
        let back_x = weight_x - 6.0;
        let (hitch, tractor) = (self.at(d.plow_hitch), self.at(d.tractor_hitch));
        let pull_y = |x: f64| hitch.1 + (tractor.1 - hitch.1) / (tractor.0 - hitch.0) * (x - hitch.0);
        let drawn = |y: f64| (0.0..=self.canvas.height_mm - BARS_MM).contains(&y);
        self.canvas.line(
            &[(weight_x, 1.0), (weight_x, self.weight_foot_y())],
            Pen(GREY, 0.6),
            Dash::Broken(0.5, 0.9),
        )?;
        let crossing = (tractor.0 > hitch.0).then(|| pull_y(weight_x)).filter(|y| drawn(*y));
        if crossing.is_some() && drawn(pull_y(back_x)) {
            self.canvas.line(&[hitch, (back_x, pull_y(back_x))], Pen(INK, 0.7), Dash::Broken(2.2, 0.9))?;
            taken.take_line(hitch, (back_x, pull_y(back_x)));
        }
        let Some(steady) = d.steady.map(|p| self.at(p)).filter(|p| drawn(p.1)) else {
            return Ok(None);
        };
        let soil = self.at(d.soil_at);
        self.canvas.line(&[soil, steady], Pen(MEASURED, 0.7), Dash::Broken(0.9, 0.7))?;
        taken.take_line(soil, steady);
        let r = 1.25;
        self.canvas.fill(
            &[
                (steady.0, steady.1 - r),
                (steady.0 + r, steady.1),
                (steady.0, steady.1 + r),
                (steady.0 - r, steady.1),
            ],
            INK,
        )?;
        taken.take((steady.0 - r, steady.1 - r), (steady.0 + r, steady.1 + r));
        if let Some(y) = crossing {
            self.canvas.line(&[steady, (weight_x, y)], Pen(INK, 2.2), Dash::Solid)?;
            self.canvas.ring((weight_x, y), 1.0, Pen(INK, 0.9))?;
        }
        Ok(Some((steady.0, crossing.map_or(steady.1, |y| (y + steady.1) / 2.0))))
    }

    /// Start, end, name and the end that the name stands at, of every force.
    fn arrows(&self) -> Vec<(Mm, Mm, &'c str, Mm)> {
        let d = self.d;
        let mut all = Vec::new();
        // The short arrows first: their names find the nearest places.
        for (arrow, support) in [(&d.tail_load, d.tail), (&d.front_load, d.front)] {
            // The load is carried from below: the arrow ends at the contact.
            let contact = self.at(support.contact);
            let there = self.tip(contact, arrow);
            let foot = (2.0 * contact.0 - there.0, 2.0 * contact.1 - there.1);
            all.push((foot, contact, arrow.label.as_str(), foot));
        }
        for (arrow, from, along) in
            [(&d.weight, d.weight_at, 0.1), (&d.pull, d.plow_hitch, 0.5), (&d.soil, d.soil_at, 0.6)]
        {
            let from = self.at(from);
            let to = self.tip(from, arrow);
            let label_at = (from.0 + (to.0 - from.0) * along, from.1 + (to.1 - from.1) * along);
            all.push((from, to, arrow.label.as_str(), label_at));
        }
        all
    }

    fn forces(&self, taken: &mut Occupied) -> Result<(), PageError> {
        let arrows = self.arrows();
        for (from, to, ..) in &arrows {
            self.canvas.line(&[*from, *to], Pen(PAPER, 3.4), Dash::Solid)?;
            self.canvas.arrow(*from, *to, Pen(MEASURED, 1.9))?;
            taken.take_line(*from, *to);
        }
        for (_, _, label, at) in arrows {
            self.label(taken, label, at, LABEL.bold().sized(7.5))?;
        }
        Ok(())
    }

    fn tip(&self, from: Mm, arrow: &Arrow) -> Mm {
        (from.0 + arrow.force.x_n * self.mm_per_n, from.1 - arrow.force.z_n * self.mm_per_n)
    }
}

fn body_points(d: &ForceDiagram) -> Vec<PointM> {
    let mut points = d.body_points();
    points.push(d.weight_at);
    points
}
