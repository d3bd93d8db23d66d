//! The load that a pass is judged by: of what carries the tail, else of what carries the front, else the force along the
//! top link.

use super::figures::{PullFigures, TailLoadFigures};
use super::measure::{self, Channel};
use ingest::plow::{CarriedLoad, ChannelRole, Plow, Setting};
use ingest::run_toml::RunDescription;
use signals::{Segment, Signals};
use statics::judged_load::{JudgedLoad, PullFromLinks};
use statics::plow_model::LIFTED_SHARE_OF_STATIC;
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
        let has = |role| signals.channels.contains_key(&role);
        let judged = JudgedLoad::of(&description.plow, &description.setting, has)?;
        let readings = signals.channels.get(&judged.load.role())?;
        let values_n = readings.iter().map(|reading| judged.load_n(*reading)).collect();
        Some(Self { load: judged.load, values_n, standing_n: judged.standing_n })
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

/// Pull of a mounted plow without a sensor of its own, row by row in N.
pub(super) fn pull_from_links(plow: &Plow, setting: &Setting, signals: &Signals) -> Option<Vec<f64>> {
    let channels = &signals.channels;
    let by_links = PullFromLinks::of(plow, setting, |role| channels.contains_key(&role))?;
    let (lower, top) = (channels.get(&ChannelRole::LowerLinks)?, channels.get(&ChannelRole::TopLink)?);
    Some(lower.iter().zip(top).map(|(lower_n, top_n)| by_links.pull_n(*lower_n, *top_n)).collect())
}
