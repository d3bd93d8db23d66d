//! Plow and ground in the side view of the wall diagram.

use super::pieces::{self, BODY, FLOOR_MM};
use super::side::Side;
use super::styles::WallLine;
use crate::PageError;
use crate::charts::canvas::{Dash, GREY, INK, Mm, PAPER, Pen, WASH};
use crate::charts::labels::Occupied;
use crate::charts::wheels;
use crate::force_diagram::{ForceDiagram, PointM, Support, SupportLook};

/// Most bottoms that are drawn.
const BOTTOMS_MAX: usize = 12;

impl Side<'_, '_> {
    /// Land, furrow and what lies below it.
    pub(super) fn ground(&self) -> Result<(), PageError> {
        let (left, right) = (self.region.corner.0, self.region.far.0);
        let (land, floor, step) = self.ground_lines();
        self.canvas.fill_box((step, land), (right, floor), WASH)?;
        self.canvas.hatch(((left, floor), (right, floor + FLOOR_MM)), 2.0, Pen(GREY, 0.5))?;
        pieces::line(self.canvas, &[(left, floor), (right, floor)], WallLine::Ground)?;
        pieces::line(self.canvas, &[(step, floor), (step, land), (right, land)], WallLine::Ground)
    }

    /// Heights of the land and of the furrow's floor, and where one ends and the other begins: land before the foremost
    /// bottom, open furrow behind it.
    pub(super) fn ground_lines(&self) -> (f64, f64, f64) {
        let land = self.origin.1;
        let floor = land + self.content.now.depth_m.max(0.0) * self.mm_per_m;
        (land, floor, self.shares().1.iter().map(|point| point.0).fold(f64::NEG_INFINITY, f64::max))
    }

    /// Keeps names off the land's surface, the furrow wall and the floor with its hatching.
    pub(super) fn take_ground(&self, taken: &mut Occupied) {
        let (left, right) = (self.region.corner.0, self.region.far.0);
        let (land, floor, step) = self.ground_lines();
        taken.take((left, floor - 0.4), (right, floor + FLOOR_MM + 0.2));
        taken.take((step - 0.4, land), (step + 0.4, floor));
        taken.take((step, land - 0.5), (right, land + 0.5));
    }

    /// Height of the frame on the paper: above hub and hitch.
    pub(super) fn beam_y(&self) -> f64 {
        let d = &self.content.now;
        let pin_y = self.at(self.plow_pin()).1;
        match d.front.look {
            SupportLook::Pin => pin_y,
            SupportLook::Wheel { .. } | SupportLook::RollingLandside | SupportLook::Sole => {
                self.hub_y(d.front).min(pin_y)
            }
        }
    }

    fn plow_pin(&self) -> PointM {
        let d = &self.content.now;
        let pins = d.members.iter().map(|member| member.0);
        pins.max_by(|a, b| a.z_m.total_cmp(&b.z_m)).unwrap_or(d.plow_hitch)
    }

    fn hub_y(&self, support: Support) -> f64 {
        self.at(support.contact).1 - support.height_m() / 2.0 * self.mm_per_m
    }

    /// Half the length of a share on the paper, and the points of all shares. How far the bottoms stand apart is
    /// not in the description: they are a sign, spread evenly about the place of the soil force, behind front wheels,
    /// which run on land that is not cut yet. A plow that slides is carried in front by the point of its share.
    fn shares(&self) -> (f64, Vec<Mm>) {
        let d = &self.content.now;
        let floor = self.origin.1 + d.depth_m.max(0.0) * self.mm_per_m;
        let half = (0.16 * self.mm_per_m).min(9.0);
        let count = self.content.bottoms.clamp(1, BOTTOMS_MAX);
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
        (half, (0..count).map(|i| (first + step * i as f64, floor)).collect())
    }

    /// Frame, bottoms and what carries them.
    pub(super) fn body(&self) -> Result<(), PageError> {
        let d = &self.content.now;
        let (beam_y, tail_x) = (self.beam_y(), self.at(d.tail.contact).0);
        let pin = self.at(self.plow_pin());
        let front_x = if d.front.look == SupportLook::Pin { pin.0 } else { self.at(d.front.contact).0 };
        let (half, shares) = self.shares();
        let rear_x = shares.iter().map(|p| p.0 - half).fold(tail_x, f64::min);
        self.canvas.line(&[pin, (front_x.min(pin.0), beam_y), (rear_x, beam_y)], BODY, Dash::Solid)?;
        self.canvas.line(&[(tail_x, beam_y), (tail_x, self.hub_y(d.tail))], BODY, Dash::Solid)?;
        if !matches!(d.front.look, SupportLook::Pin | SupportLook::Sole) {
            self.canvas.line(&[(front_x, beam_y), (front_x, self.hub_y(d.front))], BODY, Dash::Solid)?;
        }
        for point in shares {
            self.canvas.line(
                &[(point.0 - 1.5 * half, beam_y), (point.0 - 1.5 * half, point.1)],
                BODY,
                Dash::Solid,
            )?;
            pieces::bottom(self.canvas, point, half)?;
        }
        // Links are pinned to an upright, a drawbar to the end of the frame.
        for member in d.members.iter().filter(|_| d.members.len() > 1) {
            self.canvas.line(&[self.at(member.0), (self.at(member.0).0, beam_y)], BODY, Dash::Solid)?;
        }
        // The share's point that carries a plow which slides is drawn already.
        if d.front.look != SupportLook::Sole {
            self.support(d.front)?;
        }
        self.support(d.tail)
    }

    fn support(&self, support: Support) -> Result<(), PageError> {
        let (contact, long_mm) = (self.at(support.contact), support.diameter_m() * self.mm_per_m);
        match support.look {
            SupportLook::Sole => pieces::sole(self.canvas, contact),
            SupportLook::Pin => pieces::pin(self.canvas, contact, false),
            SupportLook::Wheel { .. } => wheels::wheel(self.canvas, contact, long_mm, 2.0, 1.1),
            SupportLook::RollingLandside => {
                let high_mm = support.height_m() * self.mm_per_m;
                wheels::inclined_wheel(self.canvas, contact, (long_mm, high_mm), 2.0)
            }
        }
    }

    /// Drawbar, chain or links; where they would be after the move as open squares at the pins that move.
    pub(super) fn members(&self) -> Result<(), PageError> {
        let d = &self.content.now;
        for (plow, tractor) in &d.members {
            let ends = [self.at(*plow), self.at(*tractor)];
            self.canvas.line(&ends, Pen(PAPER, 4.6), Dash::Solid)?;
            self.canvas.line(&ends, Pen(INK, 2.6), Dash::Solid)?;
            if d.members.len() > 1 {
                pieces::line(self.canvas, &[ends[1], self.at(d.plow_hitch)], WallLine::Link)?;
            }
        }
        let pins = |d: &ForceDiagram| -> Vec<Mm> {
            d.members.iter().flat_map(|m| [m.0, m.1]).map(|p| self.at(p)).collect()
        };
        let now = pins(d);
        for at in self.content.after.as_ref().map(pins).unwrap_or_default() {
            if now.iter().all(|pin| (pin.0 - at.0).hypot(pin.1 - at.1) > 0.8) {
                pieces::pin(self.canvas, at, true)?;
            }
        }
        now.iter().try_for_each(|at| pieces::pin(self.canvas, *at, false))
    }

    /// Keeps names off the plow.
    pub(super) fn take_body(&self, taken: &mut Occupied) {
        let d = &self.content.now;
        for (plow, tractor) in &d.members {
            taken.take_line(self.at(*plow), self.at(*tractor));
            for (x, y) in [self.at(*plow), self.at(*tractor)] {
                taken.take((x - 1.8, y - 1.8), (x + 1.8, y + 1.8));
            }
            if d.members.len() > 1 {
                let (upright, meets) = (self.at(*plow), self.at(d.plow_hitch));
                taken.take_line(upright, (upright.0, self.beam_y()));
                taken.take_line(self.at(*tractor), meets);
            }
        }
        for support in [d.front, d.tail] {
            let (x, y) = self.at(support.contact);
            let radius = (support.diameter_m() / 2.0 * self.mm_per_m).max(2.6);
            let high = (support.height_m() * self.mm_per_m).max(5.2);
            taken.take((x - radius, y - high), (x + radius, y));
        }
        let (beam_y, tail_x) = (self.beam_y(), self.at(d.tail.contact).0);
        taken.take_line((tail_x, beam_y), self.at(self.plow_pin()));
        taken.take_line((tail_x, beam_y), (tail_x, self.hub_y(d.tail)));
        if !matches!(d.front.look, SupportLook::Pin | SupportLook::Sole) {
            let front_x = self.at(d.front.contact).0;
            taken.take_line((front_x, beam_y), (front_x, self.hub_y(d.front)));
        }
        let (half, shares) = self.shares();
        for point in shares {
            taken.take((point.0 - 2.0 * half, point.1 - 1.3 * half), point);
            taken.take_line((point.0 - 1.5 * half, beam_y), (point.0 - 1.5 * half, point.1));
        }
    }
}
