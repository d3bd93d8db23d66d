//! What makes a plow the kind that it is: what carries its front, what carries its tail, what it hangs on.
//!
//! The kind is not written down anywhere: it follows from the parts that the description has. All that
//! differs from kind to kind, besides the statics itself, are the names of the parts.

use super::{Plow, TailWheel};
use crate::quantity::{Length, Measured};
use serde::{Deserialize, Serialize};

/// Kinds of plow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Front wheels, a tail, and a drawbar with a pin at each end.
    Trailed,
    /// The front hangs on the tractor's lower links, which the lift holds; a tail behind.
    SemiMounted,
    /// Hangs on lower links and top link, which are free to rise and fall; heel or wheel behind.
    Mounted,
    /// No wheels: slides on its sole, pulled by a chain.
    Walking,
}

/// The names that people give to the parts of a kind of plow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PartNames {
    /// The kind.
    pub kind: &'static str,
    /// Where x is measured from.
    pub origin: &'static str,
    /// What carries the front.
    pub front: &'static str,
    /// What the front's load is called.
    pub front_load: &'static str,
    /// What carries the tail.
    pub tail: &'static str,
    /// What the tail's load is called.
    pub tail_load: &'static str,
    /// The member that is moved from hole to hole.
    pub member: &'static str,
    /// What pulls.
    pub puller: &'static str,
    /// Where the member is made fast to it.
    pub puller_end: &'static str,
}

/// The sole of a walking plow: it carries at its two ends, the point of the share and the heel.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sole {
    /// Coefficient of friction between steel and soil, at the point.
    pub friction: f64,
}

/// A tail that runs in the furrow: a heel, or a rolling landside.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Heel {
    /// Where it carries, behind the origin and so below 0.
    pub x: Measured<Length>,
    /// Resistance over load: friction of a heel, rolling resistance of a rolling landside.
    pub resistance: f64,
}

/// The tractor's lower links.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LowerLinks {
    /// Pin to pin.
    pub length: Measured<Length>,
    /// Their pins, if they are not the ones that are moved from hole to hole: on a mounted plow, whose holes
    /// are those of the top link.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pins: Option<LinkPins>,
}

/// Pins of links that stay where they are.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LinkPins {
    /// Height of the pins at the plow; x is 0 there.
    pub plow_z: Measured<Length>,
    /// Height of the pins at the tractor.
    pub tractor_z: Measured<Length>,
}

/// The top link of a mounted plow.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TopLink {
    /// Pin to pin.
    pub length: Measured<Length>,
}

/// What a wheel runs on (common practice, no source): a land wheel on the land, a front furrow wheel on the floor of
/// the furrow before, a tail wheel (rear furrow wheel) on the floor of the furrow just cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum RunsIn {
    /// On the land surface, z = 0.
    Land,
    /// On the floor of a furrow, z = −working depth.
    Furrow,
}

/// What carries the tail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Tail<'a> {
    /// A wheel with a spring that tells its load.
    Wheel(&'a TailWheel),
    /// A rolling landside.
    RollingLandside(&'a Heel),
    /// A heel.
    Heel(&'a Heel),
}

impl Tail<'_> {
    /// Where it carries.
    #[must_use]
    pub fn x(&self) -> Measured<Length> {
        match self {
            Self::Wheel(wheel) => wheel.x,
            Self::RollingLandside(heel) | Self::Heel(heel) => heel.x,
        }
    }
}

impl Plow {
    /// Which kind it is, by the parts that it has.
    #[must_use]
    pub fn kind(&self) -> Kind {
        match (self.top_link.is_some(), self.lower_links.is_some(), self.sole.is_some()) {
            (true, _, _) => Kind::Mounted,
            (false, true, _) => Kind::SemiMounted,
            (false, false, true) => Kind::Walking,
            (false, false, false) => Kind::Trailed,
        }
    }

    /// What carries the tail; `None` if the description has nothing for it, which [`super::check`] rules out.
    #[must_use]
    pub fn tail(&self) -> Option<Tail<'_>> {
        let wheel = self.tail_wheel.as_ref().map(Tail::Wheel);
        let rolling = self.rolling_landside.as_ref().map(Tail::RollingLandside);
        wheel.or(rolling).or(self.heel.as_ref().map(Tail::Heel))
    }

    /// Height of what a wheel runs on, in m above the land surface.
    #[must_use]
    pub fn ground_z_m(&self, runs_in: RunsIn) -> f64 {
        match runs_in {
            RunsIn::Land => 0.0,
            RunsIn::Furrow => -self.bottoms.depth.m(),
        }
    }

    /// What the front wheels run on: the land, unless it is said otherwise.
    #[must_use]
    pub fn front_runs_in(&self) -> RunsIn {
        self.front_wheels.as_ref().and_then(|wheels| wheels.runs_in).unwrap_or(RunsIn::Land)
    }

    /// What the tail runs on: a tail wheel in the furrow unless it is said otherwise, a heel or a rolling landside
    /// always there.
    #[must_use]
    pub fn tail_runs_in(&self) -> RunsIn {
        self.tail_wheel.as_ref().and_then(|wheel| wheel.runs_in).unwrap_or(RunsIn::Furrow)
    }

    /// What is to be told of a description that does not say what its tail wheel runs on: such a wheel was taken
    /// to run on the land before `runs_in` was there.
    #[must_use]
    pub fn runs_in_notice(&self) -> Option<&'static str> {
        let untold = self.tail_wheel.as_ref().is_some_and(|wheel| wheel.runs_in.is_none());
        untold.then_some(
            "tail_wheel has no runs_in: taken to run in the furrow, on the floor at working depth; write \
             runs_in = \"furrow\" there, or runs_in = \"land\" if it runs on the land",
        )
    }

    /// Pin to pin of the member that is moved from hole to hole; `None` if it is not described, which
    /// [`super::check`] rules out.
    #[must_use]
    pub fn member_length(&self) -> Option<Measured<Length>> {
        match self.kind() {
            Kind::Trailed | Kind::Walking => self.drawbar.as_ref().map(|drawbar| drawbar.length),
            Kind::SemiMounted => self.lower_links.map(|links| links.length),
            Kind::Mounted => self.top_link.map(|link| link.length),
        }
    }

    /// What its parts are called.
    #[must_use]
    pub fn part_names(&self) -> PartNames {
        let (kind, origin, front, front_load, member) = match self.kind() {
            Kind::Trailed => ("trailed", "the front axle", "front wheels", "front load", "drawbar"),
            Kind::SemiMounted => {
                ("semi-mounted", "the lower links' pins", "lower links", "lower-link load", "lower links")
            }
            Kind::Mounted => ("mounted", "the lower links' pins", "links", "link load", "top link"),
            Kind::Walking => {
                ("walking", "the point of the share", "share point", "load on the point", "chain")
            }
        };
        let (tail, tail_load) = match self.tail() {
            Some(Tail::RollingLandside(_)) => ("rolling landside", "rolling-landside load"),
            Some(Tail::Heel(_)) => ("heel", "heel load"),
            Some(Tail::Wheel(_)) | None => ("tail wheel", "tail load"),
        };
        let (puller, puller_end) = match self.kind() {
            Kind::Walking => ("team", "hitch at the team"),
            Kind::Trailed | Kind::SemiMounted | Kind::Mounted => ("tractor", "hole at the tractor"),
        };
        PartNames { kind, origin, front, front_load, tail, tail_load, member, puller, puller_end }
    }
}
