//! What follows from the kind of a plow: the names of its parts, and the ground that its wheels run on.

use super::{Front, Kind, Plow, RunsIn, Tail};

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

impl Plow {
    /// Which kind it is.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        self.front.kind()
    }

    /// Height of what a wheel runs on, in m above the land surface.
    #[must_use]
    pub fn ground_z_m(&self, runs_in: RunsIn) -> f64 {
        match runs_in {
            RunsIn::Land => 0.0,
            RunsIn::Furrow => -self.bottoms.depth.m(),
        }
    }

    /// What is to be told of a description that does not say what its tail wheel runs on: such a wheel was taken
    /// to run on the land before `runs_in` was there.
    pub const RUNS_IN_NOT_STATED: &str = "tail_wheel has no runs_in: taken to run in the furrow, on the floor at \
        working depth; write runs_in = \"furrow\" there, or runs_in = \"land\" if it runs on the land";

    /// The same of this plow; `None` if it says so.
    #[must_use]
    pub fn runs_in_notice(&self) -> Option<&'static str> {
        let untold = self.tail.wheel().is_some_and(|wheel| wheel.runs_in.is_none());
        untold.then_some(Self::RUNS_IN_NOT_STATED)
    }

    /// What its parts are called.
    #[must_use]
    pub fn part_names(&self) -> PartNames {
        let (origin, front, front_load, member) = match self.front {
            Front::Wheels(_) => ("the front axle", "front wheels", "front load", "drawbar"),
            Front::LowerLinks => ("the lower links' pins", "lower links", "lower-link load", "lower links"),
            Front::MeetingLinks(_) => ("the lower links' pins", "links", "link load", "top link"),
            Front::Sole(_) => ("the point of the share", "share point", "load on the point", "chain"),
        };
        let (tail, tail_load) = match self.tail {
            Tail::RollingLandside(_) => ("rolling landside", "rolling-landside load"),
            Tail::Heel(_) => ("heel", "heel load"),
            Tail::Wheel(_) => ("tail wheel", "tail load"),
        };
        let (puller, puller_end) = match self.front {
            Front::Sole(_) => ("team", "hitch at the team"),
            _ => ("tractor", "hole at the tractor"),
        };
        let kind = self.kind().name();
        PartNames { kind, origin, front, front_load, tail, tail_load, member, puller, puller_end }
    }
}
