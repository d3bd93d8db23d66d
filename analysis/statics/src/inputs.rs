//! The measured inputs of the statics, each with its distribution.
//!
//! Where the description gives a ±, that is used; else the defaults below, which are by choice for a careful
//! person with a tape measure and a platform scale (half of a 95 % interval).

use super::distribution::Distribution;
pub(crate) use super::run_figures::DRAWBAR_ZERO_HALF_WIDTH_DEG;
use super::run_figures::drawbar_angle;
pub use super::run_figures::{
    FromLinks, MeanForce, MeasuredLoads, PULL_CALIBRATION_SHARE, RunFigures, TAIL_TABLE_SHARE, pin_pose,
};
use super::soil::{SoilHeight, soil_slope_prior};
use ingest::plow::{Front, Plow, Setting, Tail};
use ingest::quantity::{Length, Measured};
use rand::Rng;
use schemars::JsonSchema;
use serde::Serialize;
use std::ops::{Index, IndexMut};

/// Of the weight.
pub const WEIGHT_HALF_WIDTH_SHARE: f64 = 0.03;
/// Of a place along the plow.
pub const POINT_HALF_WIDTH_M: f64 = 0.010;
/// Of the height of a hole.
pub const HOLE_HALF_WIDTH_M: f64 = 0.005;
/// Rolling resistance and friction are known to half and to one and a half of their value.
pub const RESISTANCE_HALF_RANGE_SHARE: f64 = 0.5;

/// Fields of [`Inputs`] with the [`Input`] that names each, in the order in which they are drawn.
macro_rules! inputs {
    ($($(#[$doc:meta])* $field:ident: $input:ident,)*) => {
        /// The name of one input of the statics.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
        #[serde(rename_all = "snake_case")]
        pub enum Input {
            $($(#[$doc])* $input,)*
        }

        impl Input {
            /// All of them, in the order in which they are drawn.
            pub const ALL: [Self; [$(stringify!($input)),*].len()] = [$(Self::$input,)*];
        }

        /// The inputs of the statics in SI units (angles in degrees): a value, a distribution, or whatever else is known
        /// of each.
        #[derive(Clone, Copy, Debug, PartialEq)]
        pub struct Inputs<T> {
            $($(#[$doc])* pub $field: T,)*
        }

        impl<T> Inputs<T> {
            /// What `of` makes of each, in the order of the fields.
            pub fn map<U>(self, mut of: impl FnMut(T) -> U) -> Inputs<U> {
                Inputs { $($field: of(self.$field),)* }
            }

            /// What `of` makes of each and its other.
            pub(super) fn zip_with<U>(self, other: Self, of: impl Fn(T, T) -> U) -> Inputs<U> {
                Inputs { $($field: of(self.$field, other.$field),)* }
            }
        }

        impl<T> Index<Input> for Inputs<T> {
            type Output = T;

            fn index(&self, input: Input) -> &T {
                match input {
                    $(Input::$input => &self.$field,)*
                }
            }
        }

        impl<T> IndexMut<Input> for Inputs<T> {
            fn index_mut(&mut self, input: Input) -> &mut T {
                match input {
                    $(Input::$input => &mut self.$field,)*
                }
            }
        }
    };
}

inputs! {
    /// Weight W of the plow.
    weight: Weight,
    /// Place x_w of the weight.
    weight_place: WeightPlace,
    /// Place x_t of what carries the tail.
    tail_place: TailPlace,
    /// Place x_h of the hitch at the plow.
    plow_hitch_place: PlowHitchPlace,
    /// Height z_h of the hole at the plow.
    plow_hole_height: PlowHoleHeight,
    /// Height z_T of the hole at the tractor.
    tractor_hole_height: TractorHoleHeight,
    /// Length, pin to pin, of the member that is moved from hole to hole.
    member_length: MemberLength,
    /// Place x_s of the middle of the bottoms.
    bottoms_place: BottomsPlace,
    /// Resistance over load, ρ, of front wheels and tail wheel.
    rolling_resistance: RollingResistance,
    /// Resistance over load, ρ, of a heel or a rolling landside.
    tail_resistance: TailResistance,
    /// Friction over load, ρ, of the point of a walking plow.
    sole_friction: SoleFriction,
    /// Height of a mounted plow's lower-link pins at the plow.
    lower_link_plow_height: LowerLinkPlowHeight,
    /// Height of its lower-link pins at the tractor.
    lower_link_tractor_height: LowerLinkTractorHeight,
    /// Length, pin to pin, of its lower links.
    lower_link_length: LowerLinkLength,
    /// Mean pull along the drawbar.
    pull: Pull,
    /// Mean load of what carries the tail.
    tail_load: TailLoad,
    /// Mean load of what carries the front, if it was measured.
    front_load: FrontLoad,
    /// Slope σ of the soil force.
    soil_slope: SoilSlope,
    /// Height z_s of the soil force; not drawn but what a draw asks for, and kept or set aside by.
    soil_height: SoilHeight,
    /// Mean force along the lower links of a mounted plow together, if it was measured.
    lower_links_force: LowerLinksForce,
    /// Mean force along the top link, if it was measured.
    top_link_force: TopLinkForce,
    /// Inclination of the drawbar in degrees, if it was measured: it takes the place of z_T as it was written.
    drawbar_angle: DrawbarAngle,
}

/// An input that this kind of plow does not have, or that follows from a run. It is drawn like the others, so that
/// their draws are the same with and without it.
const NOTHING: Distribution = Distribution::Normal { mean: 0.0, sd: 0.0 };

impl Inputs<Distribution> {
    /// Plow and setting, without a run: pull and wheel loads stand at 0.
    pub fn of_plow(plow: &Plow, setting: &Setting) -> Self {
        let weight = &plow.weight.total;
        let point = |length: &Measured<Length>| Distribution::measured(length, POINT_HALF_WIDTH_M);
        let hole = |height: &Measured<Length>| Distribution::measured(height, HOLE_HALF_WIDTH_M);
        let links = match &plow.front {
            Front::MeetingLinks(links) => Some(links),
            Front::Wheels(_) | Front::Sole(_) | Front::LowerLinks => None,
        };
        Self {
            weight: Distribution::measured(weight, WEIGHT_HALF_WIDTH_SHARE * weight.si()),
            weight_place: point(&plow.weight.x),
            tail_place: point(&plow.tail.x()),
            plow_hitch_place: point(&plow.plow_hitch.x),
            plow_hole_height: hole(&setting.plow_hole.z),
            tractor_hole_height: hole(&setting.tractor_hole.z),
            member_length: point(&plow.link.length),
            bottoms_place: point(&plow.bottoms.x),
            rolling_resistance: resistance(plow.rolling.coefficient),
            tail_resistance: match &plow.tail {
                Tail::Wheel(_) => NOTHING,
                Tail::RollingLandside(heel) | Tail::Heel(heel) => resistance(heel.resistance),
            },
            sole_friction: match &plow.front {
                Front::Sole(sole) => resistance(sole.friction),
                Front::Wheels(_) | Front::LowerLinks | Front::MeetingLinks(_) => NOTHING,
            },
            lower_link_plow_height: links.map_or(NOTHING, |links| hole(&links.pins.plow_z)),
            lower_link_tractor_height: links.map_or(NOTHING, |links| hole(&links.pins.tractor_z)),
            lower_link_length: links.map_or(NOTHING, |links| point(&links.length)),
            pull: NOTHING,
            tail_load: NOTHING,
            front_load: NOTHING,
            soil_slope: soil_slope_prior(plow.bottoms.share),
            soil_height: NOTHING,
            lower_links_force: Distribution::Exact(0.0),
            top_link_force: Distribution::Exact(0.0),
            drawbar_angle: Distribution::Exact(0.0),
        }
    }

    /// The same with what a run measured; the plow's pin stands as [`pin_pose`] has it. A measured inclination of
    /// the drawbar says where the tractor's pin was in the run, whatever it stood at in the yard: a tractor squats,
    /// and land is not level.
    #[must_use]
    pub fn with_run(mut self, plow: &Plow, run: &RunFigures) -> Self {
        self.pull = run.pull.distribution();
        for (input, force) in [
            (&mut self.tail_load, run.tail_load),
            (&mut self.front_load, run.front_load),
            (&mut self.lower_links_force, run.lower_links),
            (&mut self.top_link_force, run.top_link),
        ] {
            if let Some(force) = force {
                *input = force.distribution();
            }
        }
        if let Some(angle) = drawbar_angle(plow, run) {
            self.drawbar_angle = angle;
        }
        if run.measured(plow) == Some(MeasuredLoads::LineOfPull) {
            self.soil_height = SoilHeight::of(plow, run.depth_or_described(plow)).distribution();
        }
        if let Distribution::Normal { mean, sd } = self.plow_hole_height {
            let (higher, pose_sd) = pin_pose(plow, run);
            self.plow_hole_height =
                Distribution::Normal { mean: mean + higher.m(), sd: sd.hypot(pose_sd.m()) };
        }
        self
    }

    /// Every input at the middle of its distribution.
    pub fn centres(&self) -> Inputs<f64> {
        self.inclined(self.map(Distribution::centre))
    }

    /// One draw of all inputs, independent of each other.
    pub fn draw(&self, rng: &mut impl Rng) -> Inputs<f64> {
        self.inclined(self.map(|input| input.draw(rng)))
    }

    /// With the tractor's pin where a measured inclination has it, z_T = z_h + length·sin(inclination).
    pub(super) fn inclined(&self, mut inputs: Inputs<f64>) -> Inputs<f64> {
        // Exact is only what was not measured.
        if !matches!(self.drawbar_angle, Distribution::Exact(_)) {
            let rise_m = inputs.member_length * inputs.drawbar_angle.to_radians().sin();
            inputs.tractor_hole_height = inputs.plow_hole_height + rise_m;
        }
        inputs
    }
}

fn resistance(middle: f64) -> Distribution {
    Distribution::Uniform {
        low: middle * (1.0 - RESISTANCE_HALF_RANGE_SHARE),
        high: middle * (1.0 + RESISTANCE_HALF_RANGE_SHARE),
    }
}
