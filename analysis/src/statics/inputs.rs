//! The measured inputs of the statics, each with its distribution.
//!
//! Where the description gives a ±, that is used; else the defaults below, which are by choice for a careful
//! person with a tape measure and a platform scale (half of a 95 % interval).

pub use super::mean_force::MeanForce;
pub(crate) use super::run_figures::DRAWBAR_ZERO_HALF_WIDTH_DEG;
use super::run_figures::drawbar_angle;
pub use super::run_figures::{FromLinks, RunFigures, pin_pose_m};
use super::soil::{SoilHeight, soil_slope_prior};
use super::spread::Spread;
use ingest::plow::{Front, PartNames, Plow, Setting, Tail};
use ingest::quantity::{Force, Length, Measured, Quantity};
use rand::Rng;
use serde::Serialize;

const WEIGHT_HALF_WIDTH_SHARE: f64 = 0.03;
const POINT_HALF_WIDTH_M: f64 = 0.010;
const HOLE_HALF_WIDTH_M: f64 = 0.005;
/// Rolling resistance and friction are known to half and to one and a half of their value.
const RESISTANCE_HALF_RANGE_SHARE: f64 = 0.5;
/// One input of the statics.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Input {
    /// W.
    Weight,
    /// x_w.
    WeightPlace,
    /// x_t.
    TailPlace,
    /// x_h.
    PlowHitchPlace,
    /// z_h.
    PlowHoleHeight,
    /// z_T.
    TractorHoleHeight,
    /// Pin to pin of the member that is moved from hole to hole.
    MemberLength,
    /// x_s.
    BottomsPlace,
    /// ρ of front wheels and tail wheel.
    RollingResistance,
    /// ρ of a heel or a rolling landside.
    TailResistance,
    /// ρ of the point of a walking plow.
    SoleFriction,
    /// Height of a mounted plow's lower-link pins at the plow.
    LowerLinkPlowHeight,
    /// Height of its lower-link pins at the tractor.
    LowerLinkTractorHeight,
    /// Pin to pin of its lower links.
    LowerLinkLength,
    /// Mean pull.
    Pull,
    /// Mean tail load.
    TailLoad,
    /// Mean front load, if it was measured.
    FrontLoad,
    /// σ.
    SoilSlope,
    /// z_s; not drawn but what a draw asks for, and kept or set aside by.
    SoilHeight,
    /// Mean force along the lower links of a mounted plow together, if it was measured.
    LowerLinksForce,
    /// Mean force along the top link, if it was measured.
    TopLinkForce,
    /// Inclination of the drawbar in degrees, if it was measured: it takes the place of z_T as it was written.
    DrawbarAngle,
}

/// How many inputs there are.
pub const INPUTS: usize = 22;

impl Input {
    /// All of them, in the order of [`Inputs`].
    pub const ALL: [Self; INPUTS] = [
        Self::Weight,
        Self::WeightPlace,
        Self::TailPlace,
        Self::PlowHitchPlace,
        Self::PlowHoleHeight,
        Self::TractorHoleHeight,
        Self::MemberLength,
        Self::BottomsPlace,
        Self::RollingResistance,
        Self::TailResistance,
        Self::SoleFriction,
        Self::LowerLinkPlowHeight,
        Self::LowerLinkTractorHeight,
        Self::LowerLinkLength,
        Self::Pull,
        Self::TailLoad,
        Self::FrontLoad,
        Self::SoilSlope,
        Self::SoilHeight,
        Self::LowerLinksForce,
        Self::TopLinkForce,
        Self::DrawbarAngle,
    ];

    /// In the words of a plowman, with the names of that plow's parts.
    #[must_use]
    pub fn words(self, parts: &PartNames) -> String {
        let words = match self {
            Self::Weight => "the weight of the plow",
            Self::WeightPlace => "the place of the weight",
            Self::TailPlace => return format!("the place of the {}", parts.tail),
            Self::PlowHitchPlace => "the place of the hitch at the plow",
            Self::PlowHoleHeight => "the height of the hole at the plow",
            Self::TractorHoleHeight => return format!("the height of the {}", parts.puller_end),
            Self::MemberLength => return format!("the length of the {}", parts.member),
            Self::BottomsPlace => "the place of the bottoms",
            Self::RollingResistance => "the rolling resistance",
            Self::TailResistance => return format!("the resistance of the {}", parts.tail),
            Self::SoleFriction => "the friction under the point of the share",
            Self::LowerLinkPlowHeight => "the height of the lower links' pins at the plow",
            Self::LowerLinkTractorHeight => "the height of the lower links' pins at the tractor",
            Self::LowerLinkLength => "the length of the lower links",
            Self::Pull => "the calibration of the pull sensor",
            Self::TailLoad => return format!("the load on the {}", parts.tail),
            Self::FrontLoad => return format!("the load on the {}", parts.front),
            Self::LowerLinksForce => "the force along the lower links",
            Self::TopLinkForce => "the force along the top link",
            Self::DrawbarAngle => return format!("the inclination of the {}", parts.member),
            Self::SoilSlope => "how far the soil pulls the shares down or lifts them",
            Self::SoilHeight => "the height at which the soil acts on the bottoms",
        };
        words.to_owned()
    }
}

/// One value for each [`Input`], in SI units.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Inputs([f64; INPUTS]);

impl Inputs {
    /// The value of an input.
    #[must_use]
    pub fn get(&self, input: Input) -> f64 {
        // The discriminants of `Input` are 0 to INPUTS − 1.
        self.0.get(input as usize).copied().unwrap_or(f64::NAN)
    }

    /// Puts a value in.
    pub fn set(&mut self, input: Input, value: f64) {
        if let Some(slot) = self.0.get_mut(input as usize) {
            *slot = value;
        }
    }

    /// Each less its other.
    #[must_use]
    pub(super) fn minus(mut self, other: &Self) -> Self {
        self.0.iter_mut().zip(other.0).for_each(|(value, other)| *value -= other);
        self
    }

    /// Each moved by its shift.
    #[must_use]
    pub(super) fn plus(mut self, shift: &Self) -> Self {
        self.0.iter_mut().zip(shift.0).for_each(|(value, shift)| *value += shift);
        self
    }
}

/// The distribution of every input.
#[derive(Clone, Copy, Debug)]
pub struct InputSpreads {
    spreads: [Spread; INPUTS],
    /// Whether the line of pull is known from its inclination in the run.
    inclination_measured: bool,
}

impl InputSpreads {
    /// Plow and setting, without a run: pull and wheel loads stand at 0.
    #[must_use]
    pub fn of_plow(plow: &Plow, setting: &Setting) -> Self {
        let point = |length: &Measured<Length>| around(length, POINT_HALF_WIDTH_M);
        let hole = |length: &Measured<Length>| around(length, HOLE_HALF_WIDTH_M);
        let weight = &plow.weight.total;
        let default = Force::from_si(WEIGHT_HALF_WIDTH_SHARE * weight.si());
        let nothing = Spread::Normal { mean: 0.0, sd: 0.0 };
        let mut spreads = Self { spreads: [nothing; INPUTS], inclination_measured: false };
        spreads.set(
            Input::Weight,
            Spread::Normal { mean: weight.si(), sd: weight.standard_uncertainty(default) },
        );
        spreads.set(Input::WeightPlace, point(&plow.weight.x));
        spreads.set(Input::TailPlace, point(&plow.tail.x()));
        spreads.set(Input::PlowHitchPlace, point(&plow.plow_hitch.x));
        spreads.set(Input::PlowHoleHeight, hole(&setting.plow_hole.z));
        spreads.set(Input::TractorHoleHeight, hole(&setting.tractor_hole.z));
        spreads.set(Input::MemberLength, point(&plow.link.length));
        spreads.set(Input::BottomsPlace, point(&plow.bottoms.x));
        let resistance = |middle: f64| Spread::Uniform {
            low: middle * (1.0 - RESISTANCE_HALF_RANGE_SHARE),
            high: middle * (1.0 + RESISTANCE_HALF_RANGE_SHARE),
        };
        spreads.set(Input::RollingResistance, resistance(plow.rolling.coefficient));
        if let Tail::RollingLandside(heel) | Tail::Heel(heel) = plow.tail {
            spreads.set(Input::TailResistance, resistance(heel.resistance));
        }
        match plow.front {
            Front::Wheels(_) | Front::LowerLinks => {}
            Front::Sole(sole) => spreads.set(Input::SoleFriction, resistance(sole.friction)),
            Front::MeetingLinks(links) => {
                spreads.set(Input::LowerLinkPlowHeight, hole(&links.pins.plow_z));
                spreads.set(Input::LowerLinkTractorHeight, hole(&links.pins.tractor_z));
                spreads.set(Input::LowerLinkLength, point(&links.length));
            }
        }
        for not_measured in [Input::LowerLinksForce, Input::TopLinkForce, Input::DrawbarAngle] {
            spreads.set(not_measured, Spread::Exact(0.0));
        }
        spreads.set(Input::SoilSlope, soil_slope_prior(plow.bottoms.share));
        spreads
    }

    /// The same with what a run measured; the plow's pin stands as [`pin_pose_m`] has it. A measured inclination of
    /// the drawbar says where the tractor's pin was in the run, whatever it stood at in the yard: a tractor squats,
    /// and land is not level.
    #[must_use]
    pub fn with_run(mut self, plow: &Plow, run: &RunFigures) -> Self {
        self.set(Input::Pull, run.pull.spread());
        if let Some(tail) = run.tail_load {
            self.set(Input::TailLoad, tail.spread());
        }
        if let Some(front) = run.front_load {
            self.set(Input::FrontLoad, front.spread());
        }
        for (input, force) in [(Input::LowerLinksForce, run.lower_links), (Input::TopLinkForce, run.top_link)]
        {
            if let Some(force) = force {
                self.set(input, force.spread());
            }
        }
        if let Some(angle) = drawbar_angle(plow, run) {
            self.set(Input::DrawbarAngle, angle);
            self.inclination_measured = true;
        }
        if run.measured(plow) == Some(super::draw::Measured::LineOfPull) {
            let depth_m = run.depth_m.unwrap_or_else(|| plow.bottoms.depth.m());
            self.set(Input::SoilHeight, SoilHeight::of(plow, depth_m).spread());
        }
        if let Spread::Normal { mean, sd } = self.get(Input::PlowHoleHeight) {
            let (higher_m, pose_sd_m) = pin_pose_m(plow, run);
            let (mean, sd) = (mean + higher_m, sd.hypot(pose_sd_m));
            self.set(Input::PlowHoleHeight, Spread::Normal { mean, sd });
        }
        self
    }

    /// The distribution of one input.
    #[must_use]
    pub fn get(&self, input: Input) -> Spread {
        self.spreads.get(input as usize).copied().unwrap_or(Spread::Normal { mean: f64::NAN, sd: 0.0 })
    }

    fn set(&mut self, input: Input, spread: Spread) {
        if let Some(slot) = self.spreads.get_mut(input as usize) {
            *slot = spread;
        }
    }

    /// Every input at the middle of its distribution.
    #[must_use]
    pub fn centres(&self) -> Inputs {
        self.inclined(Inputs(self.spreads.map(Spread::centre)))
    }

    /// One draw of all inputs, independent of each other.
    pub fn draw(&self, rng: &mut impl Rng) -> Inputs {
        self.inclined(Inputs(self.spreads.map(|spread| spread.draw(rng))))
    }

    /// With the tractor's pin where a measured inclination has it, z_T = z_h + length·sin(inclination).
    pub(super) fn inclined(&self, mut inputs: Inputs) -> Inputs {
        if self.inclination_measured {
            let rise_m = inputs.get(Input::MemberLength) * inputs.get(Input::DrawbarAngle).to_radians().sin();
            inputs.set(Input::TractorHoleHeight, inputs.get(Input::PlowHoleHeight) + rise_m);
        }
        inputs
    }
}

fn around(length: &Measured<Length>, half_width_m: f64) -> Spread {
    let sd = length.standard_uncertainty(Length::from_si(half_width_m));
    Spread::Normal { mean: length.si(), sd }
}
