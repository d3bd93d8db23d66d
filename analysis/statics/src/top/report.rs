//! The top view of a plow and a tractor, each figure with its 95 % interval, by Monte Carlo (JCGM 101:2008).

use super::draws::{FRONT_GRIP, TopDraw, TopInputs};
use super::resistance::{MOVERS, Mover, place};
use super::view::{TopForces, TopView};
use super::{TopError, TopForce};
use crate::distribution::Distribution;
use crate::samples::Samples;
use ingest::plow::{Plow, Setting};
use ingest::quantity::{Length, Speed};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use serde::Serialize;
use stats::{Estimate, student::Z_975};

/// Draws of a report; more would not change what a plowman reads.
const DRAWS: usize = 4_000;

/// Fewer draws than this share of those tried give no figures.
const KEPT_SHARE_MIN: f64 = 0.5;

/// Which way the pull turns the tractor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
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
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AtPin {
    /// Place of the pin, left of the middle of the cut.
    pub pin_y_m: Estimate,
    /// The same, left of the tractor's middle.
    pub pin_from_tractor_middle_m: Estimate,
    /// ψ: lead of the pull, left positive.
    pub lead_deg: Estimate,
    /// Draft at the pin.
    pub pull_x_n: Estimate,
    /// P_y: side part of the pull on the plow, left positive.
    pub pull_y_n: Estimate,
    /// N: press of the landsides on the furrow wall.
    pub landside_n: Estimate,
    /// The same press if the pull led straight ahead: the soil's own push toward the wall, κS.
    pub straight_landside_n: Estimate,
    /// What the lead adds to that press; below 0 it takes away.
    pub lead_landside_n: Estimate,
    /// μN: friction there, which is part of the draft.
    pub friction_n: Estimate,
    /// μN·v.
    pub friction_power_w: Estimate,
    /// What the lead alone adds to the draft, against a pull straight ahead; below 0 it takes away.
    pub lead_draft_n: Estimate,
    /// d: line of pull at the dynamic centre of gravity, left of the tractor's middle.
    pub line_offset_m: Estimate,
    /// d − d*.
    pub off_target_m: Estimate,
    /// P_x(d − d*), left turn positive.
    pub turning_n_m: Estimate,
    /// Side force that the front wheels are held over for, left positive.
    pub held_over_n: Estimate,
    /// Slip angle at which they give it, no more than they can.
    pub held_over_deg: Estimate,
    /// Power that takes: side force × speed × sine of the slip angle.
    pub held_over_power_w: Estimate,
    /// Probability that the landsides are off the wall.
    #[serde(rename = "landside_off_chance")]
    pub landside_off_probability: f64,
    /// Probability that the front wheels cannot give that side force.
    #[serde(rename = "front_slides_chance")]
    pub front_slides_probability: f64,
}

/// How the tractor stands under pull.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TractorLoads {
    /// Front axle, standing.
    pub standing_front_n: Estimate,
    /// Rear axle, standing.
    pub standing_rear_n: Estimate,
    /// Front axle under pull.
    pub front_axle_n: Estimate,
    /// Rear axle under pull.
    pub rear_axle_n: Estimate,
    /// Centre of gravity ahead of the rear axle, standing.
    pub standing_centre_m: Estimate,
    /// The dynamic one.
    pub dynamic_centre_m: Estimate,
    /// Resultant of the wheel loads, left of the tractor's middle; `None` without the centre's height.
    pub shift_y_m: Option<Estimate>,
    /// Left rear wheel.
    pub left_rear_n: Option<Estimate>,
    /// Right rear wheel.
    pub right_rear_n: Option<Estimate>,
}

/// The whole answer.
#[derive(Clone, Debug, Serialize)]
pub struct TopReport {
    /// Which way the tractor is turned.
    pub turn: Turn,
    /// Speed of the powers.
    pub speed_mps: f64,
    /// Whether the setting says where the pin is; else it is taken in the tractor's middle.
    pub pin_given: bool,
    /// Centre of resistance, left of the middle of the cut: the rule and its range.
    pub resistance_y_m: Estimate,
    /// The same from the wall of the open furrow.
    pub resistance_from_furrow_wall_m: Estimate,
    /// What moves it, and which way.
    pub resistance_movers: [Mover; MOVERS.len()],
    /// Tractor's middle, left of the middle of the cut.
    pub tractor_middle_y_m: Estimate,
    /// d*, left of the tractor's middle.
    pub target_offset_m: Estimate,
    /// As the setting has it.
    pub now: AtPin,
    /// Tractor under pull as the setting has it.
    pub loads: TractorLoads,
    /// How far to move the pin, left positive, that the line of pull meets d*.
    pub move_m: Estimate,
    /// The pin's step, if it is known.
    pub pin_step_m: Option<f64>,
    /// The move that the figures after it are for: the middle of `move_m`, in whole steps if there are any.
    pub advised_move_m: f64,
    /// With the pin moved so; `None` if nearly no draw can be there.
    pub after: Option<AtPin>,
    /// What the move adds to the press of the landsides on the wall, draw by draw.
    pub landside_change_n: Option<Estimate>,
    /// What the move adds to the draft.
    pub draft_change_n: Option<Estimate>,
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
    fn lead_draft_n(&self) -> f64 {
        let plow = &self.draw.view.plow;
        let straight_n = plow.soil_draft_n * (1.0 + plow.landside_friction * plow.side_share);
        self.forces.plow.pull.x_n - straight_n
    }

    fn most_side_n(&self) -> f64 {
        FRONT_GRIP * self.forces.tractor.front_axle_n
    }

    /// Slip angle that the held-over force takes.
    fn slip_rad(&self) -> f64 {
        let side_n = self.forces.tractor.held_over_n.abs().min(self.most_side_n());
        side_n / (self.draw.cornering_per_rad * self.forces.tractor.front_axle_n)
    }

    fn held_over_power_w(&self, speed_mps: f64) -> f64 {
        let side_n = self.forces.tractor.held_over_n.abs().min(self.most_side_n());
        side_n * speed_mps * self.slip_rad().sin()
    }
}

/// Works out the top view of a plow in a setting at a pull along the drawbar; the same for the same `seed`.
///
/// # Errors
/// [`TopError`]; [`TopError::FewDraws`] if more than half of the draws cannot be.
pub fn top_report(
    plow: &Plow,
    setting: &Setting,
    pull_n: f64,
    speed: Speed,
    seed: u64,
) -> Result<TopReport, TopError> {
    let distributions = TopInputs::of(plow, setting, pull_n)?;
    let middle = distributions.middle()?;
    let forces = middle.view.forces()?;
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut now = Vec::with_capacity(DRAWS);
    for _ in 0..DRAWS {
        let solved = distributions.draw(&mut rng).and_then(Solved::of);
        now.extend(solved.and_then(|solved| Ok((solved.draw.view.pin_y_for_target_m()?, solved))));
    }
    let with_target = Samples::new(now, DRAWS);
    if !with_target.are_enough(KEPT_SHARE_MIN, DRAWS) {
        return Err(TopError::FewDraws { kept: with_target.len(), tried: DRAWS });
    }
    let move_of = |(target_m, solved): &(f64, Solved)| target_m - solved.draw.view.plow.pin.y_m;
    let move_m = with_target.estimate(move_of).ok_or(TopError::NotFinite)?;
    let now = with_target.map(|(_, solved)| solved);
    let pin_step_m = plow.tractor.as_ref().and_then(|tractor| tractor.pin_step).map(Length::m);
    let advised_move_m = pin_step_m.map_or(move_m.value, |step| (move_m.value / step).round() * step + 0.0);
    let pairs = moved(&now, advised_move_m);
    let v = speed.mps();
    let enough = pairs.are_enough(KEPT_SHARE_MIN, now.len());
    let change = |of: fn(&Solved) -> f64| -> Option<Estimate> {
        pairs.estimate(|(before, after)| of(after) - of(before)).filter(|_| enough)
    };
    let figure = |of: &dyn Fn(&Solved) -> f64| figure(&now, of);
    let (plow_forces, tractor_forces) = middle.view.force_lists(&forces);
    let now_figures = at_pin(&now, v)?;
    let after = pairs.map(|(_, after)| after);
    Ok(TopReport {
        turn: turn(&now_figures.off_target_m),
        speed_mps: v,
        pin_given: setting.lateral_offset.is_some(),
        resistance_y_m: range(place(plow.bottoms.cut_width.m()), 0.0)?,
        resistance_from_furrow_wall_m: range(place(plow.bottoms.cut_width.m()), plow.total_cut_m() / 2.0)?,
        resistance_movers: MOVERS,
        tractor_middle_y_m: figure(&|s| s.draw.view.tractor.middle_y_m)?,
        target_offset_m: figure(&|s| s.forces.tractor.target_offset_m)?,
        loads: loads(&now)?,
        landside_change_n: change(|s| s.forces.plow.landside_n),
        draft_change_n: change(|s| s.forces.plow.pull.x_n),
        now: now_figures,
        move_m,
        pin_step_m,
        advised_move_m,
        after: if enough { Some(at_pin(&after, v)?) } else { None },
        view: middle.view,
        forces,
        plow_forces,
        tractor_forces,
        kept: now.len(),
        tried: now.tried(),
    })
}

/// Each draw beside itself with its pin moved; those that cannot be there are left out.
fn moved<'a>(now: &Samples<&'a Solved>, by_m: f64) -> Samples<(&'a Solved, Solved)> {
    let move_one = |solved: &Solved| {
        let view = solved.draw.view;
        Solved::of(TopDraw { view: view.with_pin_y(view.plow.pin.y_m + by_m), ..solved.draw }).ok()
    };
    Samples::new(now.iter().filter_map(|solved| Some((*solved, move_one(solved)?))).collect(), now.len())
}

/// Left or right only if the whole interval says so.
fn turn(off_target_m: &Estimate) -> Turn {
    if off_target_m.low > 0.0 {
        Turn::Left
    } else if off_target_m.high < 0.0 {
        Turn::Right
    } else {
        Turn::NotShown
    }
}

fn range(place: Distribution, plus_m: f64) -> Result<Estimate, TopError> {
    let half_width_m = Z_975 * place.standard_uncertainty();
    Estimate::around(place.centre() + plus_m, half_width_m).ok_or(TopError::NotFinite)
}

fn figure(draws: &Samples<&Solved>, of: &dyn Fn(&Solved) -> f64) -> Result<Estimate, TopError> {
    draws.estimate(|solved| of(solved)).ok_or(TopError::NotFinite)
}

fn at_pin(draws: &Samples<&Solved>, speed_mps: f64) -> Result<AtPin, TopError> {
    let figure = |of: &dyn Fn(&Solved) -> f64| figure(draws, of);
    let probability =
        |holds: fn(&Solved) -> bool| draws.probability(|solved| holds(solved)).ok_or(TopError::NotFinite);
    Ok(AtPin {
        pin_y_m: figure(&|s| s.draw.view.plow.pin.y_m)?,
        pin_from_tractor_middle_m: figure(&|s| s.draw.view.plow.pin.y_m - s.draw.view.tractor.middle_y_m)?,
        lead_deg: figure(&|s| s.forces.plow.lead_deg)?,
        pull_x_n: figure(&|s| s.forces.plow.pull.x_n)?,
        pull_y_n: figure(&|s| s.forces.plow.pull.y_n)?,
        landside_n: figure(&|s| s.forces.plow.landside_n)?,
        straight_landside_n: figure(&|s| s.forces.plow.soil_side_n)?,
        lead_landside_n: figure(&|s| s.forces.plow.landside_n - s.forces.plow.soil_side_n)?,
        friction_n: figure(&|s| s.forces.plow.friction_n)?,
        friction_power_w: figure(&|s| s.forces.plow.friction_n * speed_mps)?,
        lead_draft_n: figure(&Solved::lead_draft_n)?,
        line_offset_m: figure(&|s| s.forces.tractor.line_offset_m)?,
        off_target_m: figure(&|s| s.forces.tractor.line_offset_m - s.forces.tractor.target_offset_m)?,
        turning_n_m: figure(&|s| s.forces.tractor.turning_n_m)?,
        held_over_n: figure(&|s| s.forces.tractor.held_over_n)?,
        held_over_deg: figure(&|s| s.slip_rad().to_degrees())?,
        held_over_power_w: figure(&|s| s.held_over_power_w(speed_mps))?,
        landside_off_probability: probability(|s| !s.forces.plow.landside_holds)?,
        front_slides_probability: probability(|s| s.forces.tractor.held_over_n.abs() > s.most_side_n())?,
    })
}

fn loads(draws: &Samples<&Solved>) -> Result<TractorLoads, TopError> {
    let figure = |of: &dyn Fn(&Solved) -> f64| figure(draws, of);
    let across = |of: fn(&super::tractor::AcrossLoads) -> f64| {
        let across: Option<Vec<_>> = draws.iter().map(|solved| solved.forces.tractor.across).collect();
        Samples::new(across?, draws.tried()).estimate(of)
    };
    Ok(TractorLoads {
        standing_front_n: figure(&|s| s.draw.view.tractor.front_axle_n)?,
        standing_rear_n: figure(&|s| s.draw.view.tractor.rear_axle_n)?,
        front_axle_n: figure(&|s| s.forces.tractor.front_axle_n)?,
        rear_axle_n: figure(&|s| s.forces.tractor.rear_axle_n)?,
        standing_centre_m: figure(&|s| s.forces.tractor.standing_centre_m)?,
        dynamic_centre_m: figure(&|s| s.forces.tractor.dynamic_centre_m)?,
        shift_y_m: across(|a| a.shift_y_m),
        left_rear_n: across(|a| a.left_rear_n),
        right_rear_n: across(|a| a.right_rear_n),
    })
}
