//! The load that a pass is judged by: of what carries the tail, else of what carries the front, else the force along the
//! top link.

use super::figures::{PullFigures, TailLoadFigures};
use super::measure::{self, Channel};
use ingest::plow::{CarriedLoad, ChannelRole, Plow, Setting};
use ingest::quantity::Force;
use ingest::run_toml::RunDescription;
use signals::{Segment, Signals};
use statics::inputs::Inputs;
use statics::plow_model::{LIFTED_SHARE_OF_STATIC, PlowModel, pull_of_links, standing_loads};
use stats::StatsError;

/// The readings of that load.
#[derive(Clone, Debug)]
pub struct Carried {
    /// Which load.
    pub load: CarriedLoad,
    /// In N, row by row.
    pub values_n: Vec<f64>,
    /// The same load of the standing plow, N; `None` where that says nothing of it (a link).
    pub standing_n: Option<f64>,
}

impl Carried {
    /// The load of a run's signals; `None` if there is none.
    pub(super) fn of(description: &RunDescription, signals: &Signals) -> Option<Self> {
        let (plow, setting) = (&description.plow, &description.setting);
        let load = CarriedLoad::of(|role| signals.channels.contains_key(&role))?;
        let readings = signals.channels.get(&load.role())?;
        let values_n = match (load, plow.tail.wheel()) {
            (CarriedLoad::TailSpring, Some(wheel)) => {
                readings.iter().map(|mm| wheel.load_table.load_n(mm / 1000.0)).collect()
            }
            (CarriedLoad::TailSpring, None) => return None,
            _ => readings.clone(),
        };
        let standing = standing_loads(plow, setting).ok();
        let (front_n, tail_n) = standing.map(|(front, tail)| (front.n(), tail.n())).unzip();
        let standing_n = match load {
            CarriedLoad::Tail | CarriedLoad::TailSpring => tail_n,
            CarriedLoad::Front => front_n,
            CarriedLoad::TopLink => None,
        };
        Some(Self { load, values_n, standing_n })
    }

    /// Whether it is the tail's.
    pub fn is_tail(&self) -> bool {
        matches!(self.load, CarriedLoad::Tail | CarriedLoad::TailSpring)
    }

    /// Under this load the carrier counts as lifted, N; `None` where a load under it would say nothing.
    pub fn lifted_under_n(&self) -> Option<f64> {
        self.standing_n.map(|standing_n| LIFTED_SHARE_OF_STATIC * standing_n)
    }

    pub(super) fn figures(
        &self,
        signals: &Signals,
        segments: &[Segment],
    ) -> Result<CarriedFigures, StatsError> {
        let channel = Channel { signals, segments, values: &self.values_n };
        let vertical = || measure::tail_load(channel, self.standing_n);
        Ok(match self.load {
            CarriedLoad::Tail | CarriedLoad::TailSpring => CarriedFigures::Tail(vertical()?),
            CarriedLoad::Front => CarriedFigures::Front(vertical()?),
            CarriedLoad::TopLink => CarriedFigures::TopLink(measure::pull(channel)?),
        })
    }
}

/// Its figures over the working part.
pub(super) enum CarriedFigures {
    Tail(TailLoadFigures),
    Front(TailLoadFigures),
    TopLink(PullFigures),
}

impl CarriedFigures {
    /// Share of time with next to no load; `None` where that says nothing.
    pub fn lifted_share(&self) -> Option<f64> {
        match self {
            Self::Tail(load) | Self::Front(load) => load.lifted_share.map(|share| share.value),
            Self::TopLink(_) => None,
        }
    }
}

/// Pull of a mounted plow without a sensor of its own, row by row in N: the sum of what the links pull along x, by
/// their slopes as they were measured.
pub(super) fn pull_from_links(plow: &Plow, setting: &Setting, signals: &Signals) -> Option<Vec<f64>> {
    let channels = &signals.channels;
    if channels.contains_key(&ChannelRole::Pull) {
        return None;
    }
    let (lower, top) = (channels.get(&ChannelRole::LowerLinks)?, channels.get(&ChannelRole::TopLink)?);
    let centres = Inputs::of_plow(plow, setting).centres();
    let links = PlowModel::of(plow).links(&centres).ok()?;
    Some(
        lower
            .iter()
            .zip(top)
            .map(|(lower_n, top_n)| pull_of_links(&links, Force::from_n(*lower_n), Force::from_n(*top_n)).n())
            .collect(),
    )
}
