//! Units of whoever reads: what is told in words is told in both systems, and chosen where it is shown.

use ingest::quantity::UnitSystem;
use serde::{Deserialize, Serialize};

/// Which units the reader reads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ReaderUnits {
    /// mm, N, km/h.
    #[default]
    Si,
    /// in, lbf, mph.
    Us,
}

impl From<UnitSystem> for ReaderUnits {
    fn from(system: UnitSystem) -> Self {
        match system {
            UnitSystem::Si => Self::Si,
            UnitSystem::Us => Self::Us,
        }
    }
}

impl From<ReaderUnits> for UnitSystem {
    fn from(units: ReaderUnits) -> Self {
        match units {
            ReaderUnits::Si => Self::Si,
            ReaderUnits::Us => Self::Us,
        }
    }
}

impl ReaderUnits {
    /// As `--units` takes it.
    pub(crate) const fn option(self) -> &'static str {
        match self {
            Self::Si => "si",
            Self::Us => "us",
        }
    }

    /// The paper that goes with them, as `--paper` takes it (common practice).
    pub(crate) const fn paper(self) -> &'static str {
        match self {
            Self::Si => "a4",
            Self::Us => "letter",
        }
    }
}

/// The same in each unit system.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct InBothUnits<T> {
    /// In mm, N and km/h.
    pub si: T,
    /// In in, lbf and mph.
    pub us: T,
}

impl<T> InBothUnits<T> {
    /// In these units.
    pub const fn of(&self, units: ReaderUnits) -> &T {
        match units {
            ReaderUnits::Si => &self.si,
            ReaderUnits::Us => &self.us,
        }
    }

    /// Something of both.
    pub fn map<U>(&self, of: impl Fn(&T) -> U) -> InBothUnits<U> {
        InBothUnits { si: of(&self.si), us: of(&self.us) }
    }
}
