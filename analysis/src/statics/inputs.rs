//! The measured inputs of the statics, each with its distribution.
//!
//! Where the description gives a ±, that is used; else the defaults below, which are by choice for a careful
//! person with a tape measure and a platform scale (half of a 95 % interval).

use super::anatomy::Anatomy;
pub use super::mean_force::MeanForce;
use super::soil::soil_slope_prior;
use super::spread::Spread;
use crate::stats::Estimate;
use crate::stats::student::Z_975;
use ingest::plow::{Kind, PartNames, Pins, Plow};
use ingest::quantity::{Force, Length, Measured, Quantity};
use rand::Rng;
use serde::Serialize;

const WEIGHT_HALF_WIDTH_SHARE: f64 = 0.03;
const POINT_HALF_WIDTH_M: f64 = 0.010;
const HOLE_HALF_WIDTH_M: f64 = 0.005;
/// Rolling resistance and friction are known to half and to one and a half of their value.
const RESISTANCE_HALF_RANGE_SHARE: f64 = 0.5;
/// Standard deviation of the plow's pin about its measured height in a run: wheels that carry less or more than
/// on the level floor let the frame rise or sink (by choice; on the virtual plow up to 12 mm).
const PIN_POSE_SD_M: f64 = 0.008;
/// The same where the frame's pitch was measured, so that its turn is known: what the front wheels sink (by
/// choice).
const PIN_SINK_SD_M: f64 = 0.004;
/// An inclinometer set to zero on the level floor (by choice; half of a 95 % interval).
const PITCH_ZERO_HALF_WIDTH_DEG: f64 = 0.3;

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
    /// ρ of wheels on the land.
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
}

/// How many inputs there are.
pub const INPUTS: usize = 19;

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
            Self::TractorHoleHeight => "the height of the hole at the tractor",
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
}

/// Tail load of the standing plow in one setting, W(x_f − x_w)/L, in N; NaN for a plow that cannot be.
#[must_use]
pub fn standing_tail_load_n(plow: &Plow, pins: &Pins) -> f64 {
    let centres = InputSpreads::of_plow(plow, pins).centres();
    let side = Anatomy::of(plow).and_then(|anatomy| anatomy.side_view(&centres));
    side.map_or(f64::NAN, |side| side.standing_tail_load_n())
}

/// Rise of the drawbar per length forward, by the measures of the description alone; `None` for a plow that cannot be.
#[must_use]
pub fn described_drawbar_slope(plow: &Plow, pins: &Pins) -> Option<f64> {
    let centres = InputSpreads::of_plow(plow, pins).centres();
    let side = Anatomy::of(plow).and_then(|anatomy| anatomy.side_view(&centres)).ok()?;
    Some(side.drawbar_slope())
}

/// What a run measured, as far as the statics needs it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunFigures {
    /// Mean pull along the drawbar.
    pub pull: MeanForce,
    /// Mean tail load, if there is a channel for it.
    pub tail_load: Option<MeanForce>,
    /// Mean front load, if there is a channel for it.
    pub front_load: Option<MeanForce>,
    /// Mean depth in m, if there is a channel for it.
    pub depth_m: Option<f64>,
    /// Mean pitch of the frame in degrees, nose up +, 0 as it stood on the level floor; if there is a channel.
    pub pitch_deg: Option<Estimate>,
}

/// How a plow's pin stands in a run against how it was measured: by how much higher, and the standard
/// deviation of that.
///
/// A measured pitch turns the frame about the front carrier and moves the pin by x_h·tan(pitch); it takes the
/// place of the allowance for the pose. Where the front hangs on the tractor the pin is the point it turns
/// about, so a pitch says nothing of its height.
///
/// A run at another depth than the points were measured at, without a pitch, had the pin at another height:
/// half of the difference is taken as a standard uncertainty of it. It is not corrected for, because a plow
/// that sank on all wheels lowers the pin and one that sank at the tail raises it.
#[must_use]
pub fn pin_pose_m(plow: &Plow, run: &RunFigures) -> (f64, f64) {
    let deeper_m = run.depth_m.map_or(0.0, |depth_m| (depth_m - plow.bottoms.depth.m()) / 2.0);
    let turns = matches!(plow.kind(), Kind::Trailed | Kind::Walking);
    match run.pitch_deg.filter(|_| turns) {
        Some(pitch) => {
            let half_width_deg = ((pitch.high - pitch.low) / 2.0).hypot(PITCH_ZERO_HALF_WIDTH_DEG);
            let x_h_m = plow.plow_hitch.x.si();
            let turn_sd_m = x_h_m * (half_width_deg / Z_975).to_radians();
            (x_h_m * pitch.value.to_radians().tan(), turn_sd_m.hypot(PIN_SINK_SD_M))
        }
        None => (0.0, deeper_m.hypot(PIN_POSE_SD_M)),
    }
}

impl RunFigures {
    /// Whether every figure is a finite number.
    #[must_use]
    pub fn is_finite(&self) -> bool {
        self.pull.is_finite()
            && self.tail_load.is_none_or(|load| load.is_finite())
            && self.front_load.is_none_or(|load| load.is_finite())
            && self.depth_m.is_none_or(f64::is_finite)
            && self.pitch_deg.is_none_or(|pitch| (pitch.value + pitch.low + pitch.high).is_finite())
    }
}

/// The distribution of every input.
#[derive(Clone, Copy, Debug)]
pub struct InputSpreads([Spread; INPUTS]);

impl InputSpreads {
    /// Plow and setting, without a run: pull and wheel loads stand at 0.
    #[must_use]
    pub fn of_plow(plow: &Plow, pins: &Pins) -> Self {
        let point = |length: &Measured<Length>| around(length, POINT_HALF_WIDTH_M);
        let hole = |length: &Measured<Length>| around(length, HOLE_HALF_WIDTH_M);
        let weight = &plow.weight.total;
        let default = Force::from_si(WEIGHT_HALF_WIDTH_SHARE * weight.si());
        let nothing = Spread::Normal { mean: 0.0, sd: 0.0 };
        let mut spreads = Self([nothing; INPUTS]);
        spreads.set(
            Input::Weight,
            Spread::Normal { mean: weight.si(), sd: weight.standard_uncertainty(default) },
        );
        spreads.set(Input::WeightPlace, point(&plow.weight.x));
        if let Some(tail) = plow.tail() {
            spreads.set(Input::TailPlace, point(&tail.x()));
        }
        spreads.set(Input::PlowHitchPlace, point(&plow.plow_hitch.x));
        spreads.set(Input::PlowHoleHeight, hole(&pins.plow_z));
        spreads.set(Input::TractorHoleHeight, hole(&pins.tractor_z));
        if let Some(length) = plow.member_length() {
            spreads.set(Input::MemberLength, point(&length));
        }
        spreads.set(Input::BottomsPlace, point(&plow.bottoms.x));
        let resistance = |middle: f64| Spread::Uniform {
            low: middle * (1.0 - RESISTANCE_HALF_RANGE_SHARE),
            high: middle * (1.0 + RESISTANCE_HALF_RANGE_SHARE),
        };
        spreads.set(Input::RollingResistance, resistance(plow.rolling.coefficient));
        if let Some(heel) = plow.rolling_landside.or(plow.heel) {
            spreads.set(Input::TailResistance, resistance(heel.resistance));
        }
        if let Some(sole) = plow.sole {
            spreads.set(Input::SoleFriction, resistance(sole.friction));
        }
        if let Some((links, pins)) = plow.lower_links.and_then(|links| Some((links, links.pins?))) {
            spreads.set(Input::LowerLinkPlowHeight, hole(&pins.plow_z));
            spreads.set(Input::LowerLinkTractorHeight, hole(&pins.tractor_z));
            spreads.set(Input::LowerLinkLength, point(&links.length));
        }
        spreads.set(Input::SoilSlope, soil_slope_prior(plow.bottoms.share));
        spreads
    }

    /// The same with what a run measured; the plow's pin stands as [`pin_pose_m`] has it.
    #[must_use]
    pub fn with_run(mut self, plow: &Plow, run: &RunFigures) -> Self {
        self.set(Input::Pull, run.pull.spread());
        if let Some(tail) = run.tail_load {
            self.set(Input::TailLoad, tail.spread());
        }
        if let Some(front) = run.front_load {
            self.set(Input::FrontLoad, front.spread());
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
        self.0.get(input as usize).copied().unwrap_or(Spread::Normal { mean: f64::NAN, sd: 0.0 })
    }

    fn set(&mut self, input: Input, spread: Spread) {
        if let Some(slot) = self.0.get_mut(input as usize) {
            *slot = spread;
        }
    }

    /// Every input at the middle of its distribution.
    #[must_use]
    pub fn centres(&self) -> Inputs {
        Inputs(self.0.map(Spread::centre))
    }

    /// One draw of all inputs, independent of each other.
    pub fn draw(&self, rng: &mut impl Rng) -> Inputs {
        Inputs(self.0.map(|spread| spread.draw(rng)))
    }
}

fn around(length: &Measured<Length>, half_width_m: f64) -> Spread {
    let sd = length.standard_uncertainty(Length::from_si(half_width_m));
    Spread::Normal { mean: length.si(), sd }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::verdict::studies::invented_plow::{figures, plow, setting};

    /// A run 50 mm shallower than the plow was measured at leaves the height of its pin open by half of
    /// that, besides what its pose does in any run.
    #[test]
    fn another_depth_leaves_the_pin_height_open() {
        let plow = plow();
        let u_m = |depth_m| {
            let run = RunFigures { depth_m, ..figures(8_000.0, 900.0, &plow) };
            let pins = plow.pins(&setting("4", "4")).unwrap();
            let spreads = InputSpreads::of_plow(&plow, &pins).with_run(&plow, &run);
            spreads.get(Input::PlowHoleHeight).standard_uncertainty()
        };
        let measured_m: f64 = 0.005 / Z_975;
        assert!((u_m(None) - measured_m.hypot(PIN_POSE_SD_M)).abs() < 1e-12);
        assert_eq!(u_m(Some(0.18)), u_m(None));
        assert!((u_m(Some(0.13)) - u_m(None).hypot(0.025)).abs() < 1e-12);
    }

    /// Nose up by 2 degrees lifts a pin 0.3 m ahead of the front axle by 10.5 mm, and is known to a few mm.
    #[test]
    fn a_measured_pitch_takes_the_place_of_the_allowance_for_the_pose() {
        let plow = plow();
        let pitch_deg = Estimate::around(2.0, 0.1);
        let run = RunFigures { pitch_deg, depth_m: Some(0.13), ..figures(8_000.0, 900.0, &plow) };
        let (higher_m, sd_m) = pin_pose_m(&plow, &run);
        assert!((higher_m - 0.3 * 2.0f64.to_radians().tan()).abs() < 1e-12);
        assert!(sd_m < 0.6 * PIN_POSE_SD_M && sd_m > PIN_SINK_SD_M, "{sd_m}");
    }
}
