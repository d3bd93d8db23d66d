//! What carries a plow and what pulls it, kind by kind: the one place where the kinds differ in the statics.
//!
//! - *trailed*: front wheels at x = 0, on the land or in the furrow; a drawbar, so the pull runs along it.
//! - *walking*: the point of the share at x = 0 on the furrow bottom, the heel behind; a chain is a drawbar.
//! - *semi-mounted*: the lower links are a drawbar whose front end the lift also holds up at the plow's pin: the
//!   front carrier is that pin, and resists nothing.
//! - *mounted*, links free to rise and fall: the forces of lower links and top link meet in the virtual hitch
//!   point, so together they are one force through it, of any direction: a level pull there and a load carried
//!   there. It is a plow with a level drawbar and front wheels, both at the virtual hitch point. (The forces
//!   along the two links follow: [`link_forces_n`].)
//!
//! The tail stands on the furrow bottom (tail wheel, rolling landside, heel); a tail wheel may run on the land instead.

use super::inputs::{FromLinks, Input, Inputs};
use super::side::{Carrier, Loads, PointM, SideView, StaticsError, tractor_pin};
use ingest::plow::{Front, Plow, RunsIn, Setting, Tail};
use serde::Serialize;

/// Links that meet farther ahead than this are taken for parallel, m: a link's angle is not known well enough
/// to say where they meet.
const FARTHEST_MEETING_M: f64 = 20.0;

/// Where the front is carried.
#[derive(Clone, Copy, Debug, PartialEq)]
enum FrontCarrier {
    /// At x = 0, at this height, with this resistance.
    Origin { z_m: f64, resistance: Input },
    /// At the pin at the plow.
    PlowPin,
    /// Where the lines of top link and lower links meet.
    WhereLinksMeet,
}

/// The structure of a plow: what turns [`Inputs`] into a [`SideView`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlowModel {
    front: FrontCarrier,
    tail_z_m: f64,
    tail_resistance: Input,
}

/// The links of a mounted plow in the side view.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Links {
    /// Pins of the lower links, at the plow and at the tractor.
    pub lower: (PointM, PointM),
    /// Pins of the top link, at the plow and at the tractor.
    pub top: (PointM, PointM),
    /// Where their lines meet.
    pub meet: PointM,
}

impl PlowModel {
    /// The structure of a plow.
    #[must_use]
    pub fn of(plow: &Plow) -> Self {
        let tail_resistance = match plow.tail {
            Tail::Wheel(_) => Input::RollingResistance,
            Tail::RollingLandside(_) | Tail::Heel(_) => Input::TailResistance,
        };
        let front = match plow.front {
            Front::Wheels(wheels) => FrontCarrier::Origin {
                z_m: plow.ground_z_m(wheels.runs_in()),
                resistance: Input::RollingResistance,
            },
            Front::Sole(_) => {
                FrontCarrier::Origin { z_m: plow.ground_z_m(RunsIn::Furrow), resistance: Input::SoleFriction }
            }
            Front::LowerLinks => FrontCarrier::PlowPin,
            Front::MeetingLinks(_) => FrontCarrier::WhereLinksMeet,
        };
        Self { front, tail_z_m: plow.ground_z_m(plow.tail.runs_in()), tail_resistance }
    }

    /// Plow, carriers and line of pull as these inputs have them, without soil draft yet.
    ///
    /// # Errors
    /// [`StaticsError::VerticalDrawbar`], [`StaticsError::LinksMeetNowhere`].
    pub fn side_view(&self, inputs: &Inputs<f64>) -> Result<SideView, StaticsError> {
        let plow_pin = PointM { x_m: inputs.plow_hitch_place, z_m: inputs.plow_hole_height };
        let (front, plow_hitch, tractor_hitch) = match self.front {
            FrontCarrier::WhereLinksMeet => {
                let meet = self.links(inputs)?.meet;
                let front = Carrier { at: meet, resistance: 0.0 };
                (front, meet, PointM { x_m: meet.x_m + 1.0, ..meet })
            }
            FrontCarrier::Origin { z_m, resistance } => {
                let front = Carrier { at: PointM { x_m: 0.0, z_m }, resistance: inputs[resistance] };
                (front, plow_pin, member_end(plow_pin, inputs)?)
            }
            FrontCarrier::PlowPin => {
                (Carrier { at: plow_pin, resistance: 0.0 }, plow_pin, member_end(plow_pin, inputs)?)
            }
        };
        Ok(SideView {
            weight_n: inputs.weight,
            weight_x_m: inputs.weight_place,
            front,
            tail: Carrier {
                at: PointM { x_m: inputs.tail_place, z_m: self.tail_z_m },
                resistance: inputs[self.tail_resistance],
            },
            plow_hitch,
            tractor_hitch,
            soil_at: PointM { x_m: inputs.bottoms_place, z_m: inputs.soil_height },
            soil_slope: inputs.soil_slope,
            soil_draft_n: 0.0,
        })
    }

    /// Load that the plow puts on the tractor, down +, in N: the vertical part of the pull, and what carries the
    /// front if that is the tractor's.
    #[must_use]
    pub fn tractor_load_n(&self, loads: &Loads) -> f64 {
        let lift_n = loads.drawbar_slope * loads.pull_x_n;
        match self.front {
            FrontCarrier::Origin { .. } => lift_n,
            FrontCarrier::PlowPin | FrontCarrier::WhereLinksMeet => lift_n + loads.front_load_n,
        }
    }

    /// Whether the plow hangs on links that meet.
    #[must_use]
    pub fn hangs_on_links(&self) -> bool {
        self.front == FrontCarrier::WhereLinksMeet
    }

    /// Puts in what measured forces along the links say: the front load, which is what the links lift where they
    /// meet, and with both of them the pull.
    ///
    /// # Errors
    /// As [`PlowModel::links`].
    pub fn load_from_links(&self, inputs: &mut Inputs<f64>, from: FromLinks) -> Result<(), StaticsError> {
        let links = self.links(inputs)?;
        let top_n = inputs.top_link_force;
        let pull_x_n = match from {
            FromLinks::TopLink => inputs.pull,
            FromLinks::Both => pull_of_links_n(&links, inputs.lower_links_force, top_n),
        };
        inputs.pull = pull_x_n;
        inputs.front_load = lift_n(&links, pull_x_n, top_n);
        Ok(())
    }

    /// The links of a mounted plow and where they meet.
    ///
    /// # Errors
    /// [`StaticsError::VerticalDrawbar`] for a link on end, [`StaticsError::LinksMeetNowhere`] for links that
    /// do not meet ahead of the plow's lower pins within 20 m.
    pub fn links(&self, inputs: &Inputs<f64>) -> Result<Links, StaticsError> {
        let at = |x_m, z_m| PointM { x_m, z_m };
        let lower_pin = at(0.0, inputs.lower_link_plow_height);
        let (lower_z_m, lower_m) = (inputs.lower_link_tractor_height, inputs.lower_link_length);
        let top_pin = at(inputs.plow_hitch_place, inputs.plow_hole_height);
        let lower = (lower_pin, tractor_pin(lower_pin, lower_z_m, lower_m)?);
        let top = (top_pin, member_end(top_pin, inputs)?);
        let (lower_slope, top_slope) = (slope(lower), slope(top));
        // Both lines at the height where they meet: z = z_0 + slope·(x − x_0).
        let ahead_m = (top_pin.z_m - top_slope * top_pin.x_m - lower_pin.z_m) / (lower_slope - top_slope);
        if !(ahead_m > 0.0 && ahead_m <= FARTHEST_MEETING_M) {
            return Err(StaticsError::LinksMeetNowhere { ahead_m, farthest_m: FARTHEST_MEETING_M });
        }
        Ok(Links { lower, top, meet: PointM { x_m: ahead_m, z_m: lower_pin.z_m + lower_slope * ahead_m } })
    }
}

/// Rise of the drawbar per length forward, by the measures of the description alone.
///
/// # Errors
/// As [`PlowModel::side_view`].
pub fn described_drawbar_slope(plow: &Plow, setting: &Setting) -> Result<f64, StaticsError> {
    Ok(PlowModel::of(plow).side_view(&Inputs::of_plow(plow, setting).centres())?.drawbar_slope())
}

/// Front and tail load of the standing plow in one setting, W(x_w − x_t)/L and W(x_f − x_w)/L, in N.
///
/// # Errors
/// As [`PlowModel::side_view`].
pub fn standing_loads_n(plow: &Plow, setting: &Setting) -> Result<(f64, f64), StaticsError> {
    let side = PlowModel::of(plow).side_view(&Inputs::of_plow(plow, setting).centres())?;
    let tail_n = side.standing_tail_load_n();
    Ok((side.weight_n - tail_n, tail_n))
}

/// The tractor's pin of the member that is moved from hole to hole.
fn member_end(plow_pin: PointM, inputs: &Inputs<f64>) -> Result<PointM, StaticsError> {
    tractor_pin(plow_pin, inputs.tractor_hole_height, inputs.member_length)
}

fn slope((plow, tractor): (PointM, PointM)) -> f64 {
    (tractor.z_m - plow.z_m) / (tractor.x_m - plow.x_m)
}

/// Forces along lower links (all together) and top link, pulling +, in N, of a mounted plow whose links pull
/// forward with `pull_x_n` and up with `lift_n` where they meet: the two forces along known lines whose sum
/// that is. A top link that pushes has a force below 0.
#[must_use]
pub fn link_forces_n(links: &Links, pull_x_n: f64, lift_n: f64) -> (f64, f64) {
    let (lower, top) = (slope(links.lower), slope(links.top));
    let lower_x_n = (lift_n - top * pull_x_n) / (lower - top);
    (lower_x_n * lower.hypot(1.0), (pull_x_n - lower_x_n) * top.hypot(1.0))
}

/// Draft part of a force along a link.
fn along_x(link: (PointM, PointM), force_n: f64) -> f64 {
    force_n / slope(link).hypot(1.0)
}

/// The other way round: what the links lift where they meet, in N, from the draft part of the pull and the force along
/// the top link. The lower links have the rest of the pull, so the lift is s_l·P_x + (s_t − s_l)·T_x, with the slopes
/// s of the links.
#[must_use]
pub fn lift_n(links: &Links, pull_x_n: f64, top_n: f64) -> f64 {
    let (lower, top) = (slope(links.lower), slope(links.top));
    lower * pull_x_n + (top - lower) * along_x(links.top, top_n)
}

/// Pull along x in N of forces along lower links and top link, each pulling +.
#[must_use]
pub fn pull_of_links_n(links: &Links, lower_n: f64, top_n: f64) -> f64 {
    along_x(links.lower, lower_n) + along_x(links.top, top_n)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::{plow, rewritten};

    /// What runs on the land carries at z = 0, what runs in a furrow at the working depth below it, whichever end it
    /// is; without a word the front wheels run on the land and the tail wheel in the furrow.
    #[test]
    fn a_wheel_carries_at_the_height_of_what_it_runs_on() {
        let plow = plow();
        let heights = |front, tail| {
            let plow = rewritten(&plow, |said| {
                said.front_wheels.as_mut().unwrap().runs_in = front;
                said.tail_wheel.as_mut().unwrap().runs_in = tail;
            });
            let setting = plow.settings.values().next().unwrap();
            let side = crate::predict::nominal(&plow, setting, 7_000.0).unwrap().state.side;
            (side.front.at.z_m, side.tail.at.z_m)
        };
        let (land, furrow) = (Some(RunsIn::Land), Some(RunsIn::Furrow));
        assert_eq!(heights(None, None), (0.0, -0.18));
        assert_eq!(heights(land, furrow), (0.0, -0.18));
        assert_eq!(heights(furrow, land), (-0.18, 0.0));
        assert_eq!(heights(furrow, furrow), (-0.18, -0.18));
    }

    /// Links that close in by 0.3 m over 1 m from 0.6 m apart meet 2 m ahead; a force through that point splits
    /// into two along the links that have the same sum and the same moment.
    #[test]
    fn the_two_links_carry_what_the_meeting_point_does() {
        let point = |x_m, z_m| PointM { x_m, z_m };
        let links = Links {
            lower: (point(0.0, 0.4), point(1.0, 0.5)),
            top: (point(0.0, 1.0), point(1.0, 0.8)),
            meet: point(2.0, 0.6),
        };
        let (lower_n, top_n) = link_forces_n(&links, 8_000.0, 2_500.0);
        let part =
            |force_n: f64, slope: f64| (force_n / slope.hypot(1.0), force_n * slope / slope.hypot(1.0));
        let (lower, top) = (part(lower_n, 0.1), part(top_n, -0.2));
        assert!((lower.0 + top.0 - 8_000.0).abs() < 1e-9 && (lower.1 + top.1 - 2_500.0).abs() < 1e-9);
        let moment = |at: PointM, force: (f64, f64)| at.x_m * force.1 - at.z_m * force.0;
        let both = moment(links.lower.0, lower) + moment(links.top.0, top);
        assert!((both - moment(links.meet, (8_000.0, 2_500.0))).abs() < 1e-9, "{both}");
    }
}
