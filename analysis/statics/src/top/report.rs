//! The top view of a plow and a tractor, each figure with its 95 % interval, by Monte Carlo (JCGM 101:2008).

use super::draws::{FRONT_GRIP, TopDraw, TopInputs};
use super::resistance::{MOVERS, Mover, place};
use super::tractor::{AcrossLoads, TopForces, TopView};
use super::{TopError, TopForce};
use crate::distribution::Distribution;
use crate::samples::Samples;
use ingest::plow::{Plow, Setting};
use ingest::quantity::{Angle, Force, Length, Moment, Power, Quantity, Speed, in_si};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use schemars::JsonSchema;
use serde::Serialize;
use stats::{Estimate, student::Z_975};

/// Draws of a report; more would not change what a plowman reads.
const DRAWS: usize = 4_000;

/// Fewer draws than this share of those tried give no figures.
const KEPT_SHARE_MIN: f64 = 0.5;

/// Which way the pull turns the tractor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Turn {
    /// Toward the land.
    Left,
    /// Toward the plowed ground.
    Right,
    /// Either way, as far as the inputs are known.
    NotShown,
}

/// Figures with the pin at one place.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct AtPin {
    /// Place of the pin, left of the middle of the cut.
    #[serde(rename = "pin_y_m")]
    pub pin_y: Estimate<Length>,
    /// The same, left of the tractor's middle.
    #[serde(rename = "pin_from_tractor_middle_m")]
    pub pin_from_tractor_middle: Estimate<Length>,
    /// ψ: lead of the pull, left positive.
    #[serde(rename = "lead_deg")]
    pub lead: Estimate<Angle>,
    /// Draft at the pin.
    #[serde(rename = "pull_x_n")]
    pub pull_x: Estimate<Force>,
    /// P_y: side part of the pull on the plow, left positive.
    #[serde(rename = "pull_y_n")]
    pub pull_y: Estimate<Force>,
    /// N: press of the landsides on the furrow wall.
    #[serde(rename = "landside_n")]
    pub landside: Estimate<Force>,
    /// The same press if the pull led straight ahead: the soil's own push toward the wall, κS.
    #[serde(rename = "straight_landside_n")]
    pub straight_landside: Estimate<Force>,
    /// What the lead adds to that press; below 0 it takes away.
    #[serde(rename = "lead_landside_n")]
    pub lead_landside: Estimate<Force>,
    /// μN: friction there, which is part of the draft.
    #[serde(rename = "friction_n")]
    pub friction: Estimate<Force>,
    /// μN·v.
    #[serde(rename = "friction_power_w")]
    pub friction_power: Estimate<Power>,
    /// What the lead alone adds to the draft, against a pull straight ahead; below 0 it takes away.
    #[serde(rename = "lead_draft_n")]
    pub lead_draft: Estimate<Force>,
    /// d: line of pull at the dynamic center of gravity, left of the tractor's middle.
    #[serde(rename = "line_offset_m")]
    pub line_offset: Estimate<Length>,
    /// d − d*.
    #[serde(rename = "off_target_m")]
    pub off_target: Estimate<Length>,
    /// P_x(d − d*), left turn positive.
    #[serde(rename = "turning_n_m")]
    pub turning: Estimate<Moment>,
    /// Side force that the front wheels are held over for, left positive.
    #[serde(rename = "held_over_n")]
    pub held_over: Estimate<Force>,
    /// Slip angle at which they give it, no more than they can.
    #[serde(rename = "held_over_deg")]
    pub held_over_slip: Estimate<Angle>,
    /// Power that takes: side force × speed × sine of the slip angle.
    #[serde(rename = "held_over_power_w")]
    pub held_over_power: Estimate<Power>,
    /// Probability that the landsides are off the wall.
    #[serde(rename = "landside_off_chance")]
    pub landside_off_probability: f64,
    /// Probability that the front wheels cannot give that side force.
    #[serde(rename = "front_slides_chance")]
    pub front_slides_probability: f64,
}

/// How the tractor stands under pull.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TractorLoads {
    /// Front axle, standing.
    #[serde(rename = "standing_front_n")]
    pub standing_front: Estimate<Force>,
    /// Rear axle, standing.
    #[serde(rename = "standing_rear_n")]
    pub standing_rear: Estimate<Force>,
    /// Front axle under pull.
    #[serde(rename = "front_axle_n")]
    pub front_axle: Estimate<Force>,
    /// Rear axle under pull.
    #[serde(rename = "rear_axle_n")]
    pub rear_axle: Estimate<Force>,
    /// Center of gravity ahead of the rear axle, standing.
    #[serde(rename = "standing_centre_m")]
    pub standing_centre: Estimate<Length>,
    /// The dynamic one.
    #[serde(rename = "dynamic_centre_m")]
    pub dynamic_centre: Estimate<Length>,
    /// Resultant of the wheel loads, left of the tractor's middle; `None` without the center's height.
    #[serde(rename = "shift_y_m")]
    pub shift_y: Option<Estimate<Length>>,
    /// Left rear wheel.
    #[serde(rename = "left_rear_n")]
    pub left_rear: Option<Estimate<Force>>,
    /// Right rear wheel.
    #[serde(rename = "right_rear_n")]
    pub right_rear: Option<Estimate<Force>>,
}

/// The whole answer.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct TopReport {
    /// Which way the tractor is turned.
    pub turn: Turn,
    /// Speed of the powers.
    #[serde(rename = "speed_mps", serialize_with = "in_si")]
    pub speed: Speed,
    /// Whether the setting says where the pin is; else it is taken in the tractor's middle.
    pub pin_given: bool,
    /// Center of resistance, left of the middle of the cut: the rule and its range.
    #[serde(rename = "resistance_y_m")]
    pub resistance_y: Estimate<Length>,
    /// The same from the wall of the open furrow.
    #[serde(rename = "resistance_from_furrow_wall_m")]
    pub resistance_from_furrow_wall: Estimate<Length>,
    /// What moves it, and which way.
    pub resistance_movers: [Mover; MOVERS.len()],
    /// Tractor's middle, left of the middle of the cut.
    #[serde(rename = "tractor_middle_y_m")]
    pub tractor_middle_y: Estimate<Length>,
    /// d*, left of the tractor's middle.
    #[serde(rename = "target_offset_m")]
    pub target_offset: Estimate<Length>,
    /// As the setting has it.
    pub now: AtPin,
    /// Tractor under pull as the setting has it.
    pub loads: TractorLoads,
    /// How far to move the pin, left positive, that the line of pull meets d*.
    #[serde(rename = "move_m")]
    pub pin_move: Estimate<Length>,
    /// The pin's step, if it is known.
    #[serde(rename = "pin_step_m", serialize_with = "in_si")]
    pub pin_step: Option<Length>,
    /// The move that the figures after it are for: the middle of `move_m`, in whole steps if there are any.
    #[serde(rename = "advised_move_m", serialize_with = "in_si")]
    pub advised_move: Length,
    /// With the pin moved so; `None` if nearly no draw can be there.
    pub after: Option<AtPin>,
    /// What the move adds to the press of the landsides on the wall, draw by draw.
    #[serde(rename = "landside_change_n")]
    pub landside_change: Option<Estimate<Force>>,
    /// What the move adds to the draft.
    #[serde(rename = "draft_change_n")]
    pub draft_change: Option<Estimate<Force>>,
    /// The view with every input at its middle: what a diagram shows.
    pub view: TopView,
    /// Its forces.
    pub forces: TopForces,
    /// The horizontal forces on the plow, with their places.
    pub plow_forces: Vec<TopForce>,
    /// The horizontal forces on the tractor, with their places.
    pub tractor_forces: Vec<TopForce>,
    /// Draws kept.
    pub kept: usize,
    /// Draws tried.
    pub tried: usize,
}

/// A draw with what follows from it.
struct Solved {
    draw: TopDraw,
    forces: TopForces,
}

impl Solved {
    fn of(draw: TopDraw) -> Result<Self, TopError> {
        Ok(Self { draw, forces: draw.view.forces()? })
    }

    /// Draft beyond that of the same plow pulled straight ahead.
    fn lead_draft(&self) -> Force {
        let plow = &self.draw.view.plow;
        let straight_n = plow.soil_draft.n() * (1.0 + plow.landside_friction * plow.side_share);
        Force::from_n(self.forces.plow.pull.x.n() - straight_n)
    }

    fn most_side_n(&self) -> f64 {
        FRONT_GRIP * self.forces.tractor.front_axle.n()
    }

    /// What the front wheels give of the held-over force.
    fn side_n(&self) -> f64 {
        self.forces.tractor.held_over.n().abs().min(self.most_side_n())
    }

    /// Slip angle that it takes.
    fn slip_rad(&self) -> f64 {
        self.side_n() / (self.draw.cornering_per_rad * self.forces.tractor.front_axle.n())
    }
}

/// Works out the top view of a plow in a setting at a pull along the drawbar; the same for the same `seed`.
///
/// # Errors
/// [`TopError`]; [`TopError::FewDraws`] if more than half of the draws cannot be.
pub fn top_report(
    plow: &Plow,
    setting: &Setting,
    pull: Force,
    speed: Speed,
    seed: u64,
) -> Result<TopReport, TopError> {
    let distributions = TopInputs::of(plow, setting, pull)?;
    let middle = distributions.middle()?;
    let forces = middle.view.forces()?;
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let drawn = (0..DRAWS).filter_map(|_| {
        let solved = Solved::of(distributions.draw(&mut rng).ok()?).ok()?;
        Some((solved.draw.view.pin_y_for_target().ok()?, solved))
    });
    let with_target = Samples::new(drawn.collect(), DRAWS);
    if !with_target.are_enough(KEPT_SHARE_MIN, DRAWS) {
        return Err(TopError::FewDraws { kept: with_target.len(), tried: DRAWS });
    }
    let move_of = |(target, solved): &(Length, Solved)| *target - solved.draw.view.plow.pin.y;
    let pin_move: Estimate<Length> = with_target.estimate(move_of).ok_or(TopError::NotFinite)?;
    let now = with_target.map(|(_, solved)| solved);
    let pin_step = plow.tractor.as_ref().and_then(|tractor| tractor.pin_step);
    let in_steps = |step_m: f64| (pin_move.value.m() / step_m).round() * step_m + 0.0;
    let advised_move = pin_step.map_or(pin_move.value, |step| Length::from_m(in_steps(step.m())));
    let pairs = moved(&now, advised_move);
    let enough = pairs.are_enough(KEPT_SHARE_MIN, now.len());
    let change = |of: fn(&Solved) -> Force| -> Option<Estimate<Force>> {
        pairs.estimate(|(before, after)| of(after) - of(before)).filter(|_| enough)
    };
    let (plow_forces, tractor_forces) = middle.view.force_lists(&forces);
    let now_figures = at_pin(&now, speed)?;
    let after = pairs.map(|(_, after)| after);
    Ok(TopReport {
        turn: turn(&now_figures.off_target),
        speed,
        pin_given: setting.lateral_offset.is_some(),
        resistance_y: range(place(plow.bottoms.cut_width), 0.0)?,
        resistance_from_furrow_wall: range(place(plow.bottoms.cut_width), plow.total_cut_m() / 2.0)?,
        resistance_movers: MOVERS,
        tractor_middle_y: figure(&now, |s| s.draw.view.tractor.middle_y)?,
        target_offset: figure(&now, |s| s.forces.tractor.target_offset)?,
        loads: loads(&now)?,
        landside_change: change(|s| s.forces.plow.landside),
        draft_change: change(|s| s.forces.plow.pull.x),
        now: now_figures,
        pin_move,
        pin_step,
        advised_move,
        after: enough.then(|| at_pin(&after, speed)).transpose()?,
        view: middle.view,
        forces,
        plow_forces,
        tractor_forces,
        kept: now.len(),
        tried: now.tried(),
    })
}

/// Each draw beside itself with its pin moved; those that cannot be there are left out.
fn moved<'a>(now: &Samples<&'a Solved>, by: Length) -> Samples<(&'a Solved, Solved)> {
    let move_one = |solved: &Solved| {
        let view = solved.draw.view;
        Solved::of(TopDraw { view: view.with_pin_y(view.plow.pin.y + by), ..solved.draw }).ok()
    };
    Samples::new(now.iter().filter_map(|solved| Some((*solved, move_one(solved)?))).collect(), now.len())
}

/// Left or right only if the whole interval says so.
fn turn(off_target: &Estimate<Length>) -> Turn {
    match (off_target.low.m() > 0.0, off_target.high.m() < 0.0) {
        (true, _) => Turn::Left,
        (_, true) => Turn::Right,
        _ => Turn::NotShown,
    }
}

fn range(place: Distribution, plus_m: f64) -> Result<Estimate<Length>, TopError> {
    let half_width_m = Z_975 * place.standard_uncertainty();
    Estimate::around(place.centre() + plus_m, half_width_m).map(Estimate::from_si).ok_or(TopError::NotFinite)
}

fn figure<Q: Quantity>(draws: &Samples<&Solved>, of: impl Fn(&Solved) -> Q) -> Result<Estimate<Q>, TopError> {
    draws.estimate(|solved| of(solved)).ok_or(TopError::NotFinite)
}

fn at_pin(draws: &Samples<&Solved>, speed: Speed) -> Result<AtPin, TopError> {
    let probability =
        |holds: fn(&Solved) -> bool| draws.probability(|solved| holds(solved)).ok_or(TopError::NotFinite);
    Ok(AtPin {
        pin_y: figure(draws, |s| s.draw.view.plow.pin.y)?,
        pin_from_tractor_middle: figure(draws, |s| s.draw.view.plow.pin.y - s.draw.view.tractor.middle_y)?,
        lead: figure(draws, |s| s.forces.plow.lead)?,
        pull_x: figure(draws, |s| s.forces.plow.pull.x)?,
        pull_y: figure(draws, |s| s.forces.plow.pull.y)?,
        landside: figure(draws, |s| s.forces.plow.landside)?,
        straight_landside: figure(draws, |s| s.forces.plow.soil_side)?,
        lead_landside: figure(draws, |s| s.forces.plow.landside - s.forces.plow.soil_side)?,
        friction: figure(draws, |s| s.forces.plow.friction)?,
        friction_power: figure(draws, |s| Power::from_w(s.forces.plow.friction.n() * speed.mps()))?,
        lead_draft: figure(draws, Solved::lead_draft)?,
        line_offset: figure(draws, |s| s.forces.tractor.line_offset)?,
        off_target: figure(draws, |s| s.forces.tractor.line_offset - s.forces.tractor.target_offset)?,
        turning: figure(draws, |s| s.forces.tractor.turning)?,
        held_over: figure(draws, |s| s.forces.tractor.held_over)?,
        held_over_slip: figure(draws, |s| Angle::from_deg(s.slip_rad().to_degrees()))?,
        held_over_power: figure(draws, |s| Power::from_w(s.side_n() * speed.mps() * s.slip_rad().sin()))?,
        landside_off_probability: probability(|s| !s.forces.plow.landside_holds)?,
        front_slides_probability: probability(|s| s.forces.tractor.held_over.n().abs() > s.most_side_n())?,
    })
}

fn loads(draws: &Samples<&Solved>) -> Result<TractorLoads, TopError> {
    let across: Option<Vec<AcrossLoads>> = draws.iter().map(|solved| solved.forces.tractor.across).collect();
    let across = across.map(|across| Samples::new(across, draws.tried()));
    Ok(TractorLoads {
        standing_front: figure(draws, |s| s.draw.view.tractor.front_axle)?,
        standing_rear: figure(draws, |s| s.draw.view.tractor.rear_axle)?,
        front_axle: figure(draws, |s| s.forces.tractor.front_axle)?,
        rear_axle: figure(draws, |s| s.forces.tractor.rear_axle)?,
        standing_centre: figure(draws, |s| s.forces.tractor.standing_centre)?,
        dynamic_centre: figure(draws, |s| s.forces.tractor.dynamic_centre)?,
        shift_y: across.as_ref().and_then(|all| all.estimate(|a| a.shift_y)),
        left_rear: across.as_ref().and_then(|all| all.estimate(|a| a.left_rear)),
        right_rear: across.as_ref().and_then(|all| all.estimate(|a| a.right_rear)),
    })
}
