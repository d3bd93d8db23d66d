//! The load that a pass is judged by, row by row: of what carries the tail, else of what carries the front, else the
//! force along the top link; and the pull where the links alone say it.

use super::inputs::Inputs;
use super::plow_model::{LIFTED_SHARE_OF_STATIC, Links, PlowModel, pull_of_links, standing_loads};
use ingest::plow::{CarriedLoad, ChannelRole, LoadTable, Plow, Setting};
use ingest::quantity::Force;

/// Which load it is, and what a reading of its channel says of it.
#[derive(Clone, Debug)]
pub struct JudgedLoad {
    /// Which load.
    pub load: CarriedLoad,
    /// The same load of the standing plow, N; `None` where that says nothing of it (a link).
    pub standing_n: Option<f64>,
    table: Option<LoadTable>,
}

impl JudgedLoad {
    /// The one that these channels of a plow measure; `None` if they measure none.
    pub fn of(plow: &Plow, setting: &Setting, has: impl Fn(ChannelRole) -> bool) -> Option<Self> {
        let load = CarriedLoad::of(has)?;
        let table = match load {
            CarriedLoad::TailSpring => Some(plow.tail.wheel()?.load_table.clone()),
            CarriedLoad::Tail | CarriedLoad::Front | CarriedLoad::TopLink => None,
        };
        let standing = standing_loads(plow, setting).ok();
        let (front_n, tail_n) = standing.map(|(front, tail)| (front.n(), tail.n())).unzip();
        let standing_n = match load {
            CarriedLoad::Tail | CarriedLoad::TailSpring => tail_n,
            CarriedLoad::Front => front_n,
            CarriedLoad::TopLink => None,
        };
        Some(Self { load, standing_n, table })
    }

    /// The load in N by a reading of [`CarriedLoad::role`], in the column's unit.
    pub fn load_n(&self, reading: f64) -> f64 {
        self.table.as_ref().map_or(reading, |table| table.load_n(reading / 1000.0))
    }

    /// Whether it is the front's.
    pub fn is_front(&self) -> bool {
        self.load == CarriedLoad::Front
    }

    /// Under this load the carrier counts as lifted, N; `None` where a load under it would say nothing.
    pub fn lifted_under_n(&self) -> Option<f64> {
        self.standing_n.map(|standing_n| LIFTED_SHARE_OF_STATIC * standing_n)
    }
}

/// Pull of a mounted plow without a sensor of its own: the sum of what the links pull along x, by their slopes as they
/// were measured.
#[derive(Clone, Copy, Debug)]
pub struct PullFromLinks(Links);

impl PullFromLinks {
    /// For these channels of a plow; `None` where there is a sensor of the pull, or not both kinds of link measured.
    pub fn of(plow: &Plow, setting: &Setting, has: impl Fn(ChannelRole) -> bool) -> Option<Self> {
        let links_alone =
            !has(ChannelRole::Pull) && has(ChannelRole::LowerLinks) && has(ChannelRole::TopLink);
        let centres = Inputs::of_plow(plow, setting).centres();
        links_alone.then(|| PlowModel::of(plow).links(&centres).ok()).flatten().map(Self)
    }

    /// The pull in N by the forces along the lower links and the top link, in N.
    pub fn pull_n(&self, lower_n: f64, top_n: f64) -> f64 {
        pull_of_links(&self.0, Force::from_n(lower_n), Force::from_n(top_n)).n()
    }
}
