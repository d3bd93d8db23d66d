//! What carries a plow and what pulls it, kind by kind: the one place where the kinds differ in the statics.
//!
//! - *trailed*: front wheels at x = 0, on the land or in the furrow; a drawbar, so the pull runs along it.
//! - *walking*: the point of the share at x = 0 on the furrow bottom, the heel behind; a chain is a drawbar.
//! - *semi-mounted*: the lower links are a drawbar whose front end the lift also holds up at the plow's pin: the
//!   front carrier is that pin, and resists nothing.
//! - *mounted*, links free to rise and fall: the forces of lower links and top link meet in the virtual hitch
//!   point, so together they are one force through it, of any direction: a level pull there and a load carried
//!   there. It is a plow with a level drawbar and front wheels, both at the virtual hitch point. (The forces
//!   along the two links follow: [`link_forces`].)
//!
//! The tail stands on the furrow bottom (tail wheel, rolling landside, heel); a tail wheel may run on the land instead.

use super::inputs::{FromLinks, Input, Inputs};
use super::side::{Carrier, Loads, Point, SideView, StaticsError, tractor_pin};
use ingest::plow::{Front, Plow, RunsIn, Setting, Tail};
use ingest::quantity::{Force, Length};
use schemars::JsonSchema;
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
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Links {
    /// Pins of the lower links, at the plow and at the tractor.
    pub lower: (Point, Point),
    /// Pins of the top link, at the plow and at the tractor.
    pub top: (Point, Point),
    /// Where their lines meet.
    pub meet: Point,
}

impl PlowModel {
    /// The structure of a plow.
    pub fn of(plow: &Plow) -> Self {
        let tail_resistance = match plow.tail {
            Tail::Wheel(_) => Input::RollingResistance,
            Tail::RollingLandside(_) | Tail::Heel(_) => Input::TailResistance,
        };
        let on_the_ground =
            |runs_in, resistance| FrontCarrier::Origin { z_m: plow.ground_z_m(runs_in), resistance };
        let front = match plow.front {
            Front::Wheels(wheels) => on_the_ground(wheels.runs_in(), Input::RollingResistance),
            Front::Sole(_) => on_the_ground(RunsIn::Furrow, Input::SoleFriction),
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
        let plow_pin = Point::from_m(inputs.plow_hitch_place, inputs.plow_hole_height);
        let tail_at = Point::from_m(inputs.tail_place, self.tail_z_m);
        let (front, plow_hitch, tractor_hitch) = match self.front {
            FrontCarrier::WhereLinksMeet => {
                let meet = self.links(inputs)?.meet;
                let front = Carrier { at: meet, resistance: 0.0 };
                (front, meet, Point { x: Length::from_m(meet.x.m() + 1.0), ..meet })
            }
            FrontCarrier::Origin { z_m, resistance } => {
                let front = Carrier { at: Point::from_m(0.0, z_m), resistance: inputs[resistance] };
                (front, plow_pin, member_end(plow_pin, inputs)?)
            }
            FrontCarrier::PlowPin => {
                (Carrier { at: plow_pin, resistance: 0.0 }, plow_pin, member_end(plow_pin, inputs)?)
            }
        };
        Ok(SideView {
            weight: Force::from_n(inputs.weight),
            weight_x: Length::from_m(inputs.weight_place),
            front,
            tail: Carrier { at: tail_at, resistance: inputs[self.tail_resistance] },
            plow_hitch,
            tractor_hitch,
            soil_at: Point::from_m(inputs.bottoms_place, inputs.soil_height),
            soil_slope: inputs.soil_slope,
            soil_draft: Force::from_n(0.0),
        })
    }

    /// Load that the plow puts on the tractor, down +: the vertical part of the pull, and what carries the
    /// front if that is the tractor's.
    pub fn tractor_load(&self, loads: &Loads) -> Force {
        let lift_n = loads.drawbar_slope * loads.pull_x.n();
        Force::from_n(match self.front {
            FrontCarrier::Origin { .. } => lift_n,
            FrontCarrier::PlowPin | FrontCarrier::WhereLinksMeet => lift_n + loads.front_load.n(),
        })
    }

    /// Whether the plow hangs on links that meet.
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
        let top = Force::from_n(inputs.top_link_force);
        let pull_x = match from {
            FromLinks::TopLink => Force::from_n(inputs.pull),
            FromLinks::Both => pull_of_links(&links, Force::from_n(inputs.lower_links_force), top),
        };
        inputs.pull = pull_x.n();
        inputs.front_load = lift(&links, pull_x, top).n();
        Ok(())
    }

    /// The links of a mounted plow and where they meet.
    ///
    /// # Errors
    /// [`StaticsError::VerticalDrawbar`] for a link on end, [`StaticsError::LinksMeetNowhere`] for links that
    /// do not meet ahead of the plow's lower pins within 20 m.
    pub fn links(&self, inputs: &Inputs<f64>) -> Result<Links, StaticsError> {
        let lower_pin = Point::from_m(0.0, inputs.lower_link_plow_height);
        let lower_z = Length::from_m(inputs.lower_link_tractor_height);
        let lower_length = Length::from_m(inputs.lower_link_length);
        let top_pin = Point::from_m(inputs.plow_hitch_place, inputs.plow_hole_height);
        let lower = (lower_pin, tractor_pin(lower_pin, lower_z, lower_length)?);
        let top = (top_pin, member_end(top_pin, inputs)?);
        let (lower_slope, top_slope) = (slope(lower), slope(top));
        // Both lines at the height where they meet: z = z_0 + slope·(x − x_0).
        let ahead_m =
            (top_pin.z.m() - top_slope * top_pin.x.m() - lower_pin.z.m()) / (lower_slope - top_slope);
        if !(ahead_m > 0.0 && ahead_m <= FARTHEST_MEETING_M) {
            let (ahead, farthest) = (Length::from_m(ahead_m), Length::from_m(FARTHEST_MEETING_M));
            return Err(StaticsError::LinksMeetNowhere { ahead, farthest });
        }
        Ok(Links { lower, top, meet: Point::from_m(ahead_m, lower_pin.z.m() + lower_slope * ahead_m) })
    }
}

/// Rise of the drawbar per length forward, by the measures of the description alone.
///
/// # Errors
/// As [`PlowModel::side_view`].
pub fn described_drawbar_slope(plow: &Plow, setting: &Setting) -> Result<f64, StaticsError> {
    Ok(PlowModel::of(plow).side_view(&Inputs::of_plow(plow, setting).centres())?.drawbar_slope())
}

/// What carries the plow, front or tail, counts as lifted under this share of its load when the plow stands. Common
/// practice, no source.
pub const LIFTED_SHARE_OF_STATIC: f64 = 0.05;

/// Front and tail load of the standing plow in one setting, W(x_w − x_t)/L and W(x_f − x_w)/L.
///
/// # Errors
/// As [`PlowModel::side_view`].
pub fn standing_loads(plow: &Plow, setting: &Setting) -> Result<(Force, Force), StaticsError> {
    let side = PlowModel::of(plow).side_view(&Inputs::of_plow(plow, setting).centres())?;
    let tail = side.standing_tail_load();
    Ok((side.weight - tail, tail))
}

/// The tractor's pin of the member that is moved from hole to hole.
fn member_end(plow_pin: Point, inputs: &Inputs<f64>) -> Result<Point, StaticsError> {
    tractor_pin(plow_pin, Length::from_m(inputs.tractor_hole_height), Length::from_m(inputs.member_length))
}

fn slope((plow, tractor): (Point, Point)) -> f64 {
    plow.slope_to(tractor)
}

/// Forces along lower links (all together) and top link, pulling +, of a mounted plow whose links pull forward with
/// `pull_x` and up with `lift` where they meet: the two forces along known lines whose sum that is. A top link that
/// pushes has a force below 0.
pub fn link_forces(links: &Links, pull_x: Force, lift: Force) -> (Force, Force) {
    let (lower, top, pull_x_n) = (slope(links.lower), slope(links.top), pull_x.n());
    let lower_x_n = (lift.n() - top * pull_x_n) / (lower - top);
    (Force::from_n(lower_x_n * lower.hypot(1.0)), Force::from_n((pull_x_n - lower_x_n) * top.hypot(1.0)))
}

/// Draft part of a force along a link, in N.
fn along_x_n(link: (Point, Point), force: Force) -> f64 {
    force.n() / slope(link).hypot(1.0)
}

/// The other way round: what the links lift where they meet, from the draft part of the pull and the force along the
/// top link. The lower links have the rest of the pull, so the lift is s_l·P_x + (s_t − s_l)·T_x, with the slopes s of
/// the links.
pub fn lift(links: &Links, pull_x: Force, top: Force) -> Force {
    let (lower_slope, top_slope) = (slope(links.lower), slope(links.top));
    Force::from_n(lower_slope * pull_x.n() + (top_slope - lower_slope) * along_x_n(links.top, top))
}

/// Pull along x of forces along lower links and top link, each pulling +.
pub fn pull_of_links(links: &Links, lower: Force, top: Force) -> Force {
    Force::from_n(along_x_n(links.lower, lower) + along_x_n(links.top, top))
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
            let side = crate::predict::nominal(&plow, setting, Force::from_n(7_000.0)).unwrap().side;
            (side.front.at.z.m(), side.tail.at.z.m())
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
        let links = Links {
            lower: (Point::from_m(0.0, 0.4), Point::from_m(1.0, 0.5)),
            top: (Point::from_m(0.0, 1.0), Point::from_m(1.0, 0.8)),
            meet: Point::from_m(2.0, 0.6),
        };
        let (lower, top) = link_forces(&links, Force::from_n(8_000.0), Force::from_n(2_500.0));
        let part = |n: f64, slope: f64| (n / slope.hypot(1.0), n * slope / slope.hypot(1.0));
        let (lower, top) = (part(lower.n(), 0.1), part(top.n(), -0.2));
        assert!((lower.0 + top.0 - 8_000.0).abs() < 1e-9 && (lower.1 + top.1 - 2_500.0).abs() < 1e-9);
        let moment = |at: Point, force: (f64, f64)| at.x.m() * force.1 - at.z.m() * force.0;
        let both = moment(links.lower.0, lower) + moment(links.top.0, top);
        assert!((both - moment(links.meet, (8_000.0, 2_500.0))).abs() < 1e-9, "{both}");
    }
}
