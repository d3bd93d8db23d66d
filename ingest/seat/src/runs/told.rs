//! What `hitchwright ... --brief --json` says.

use super::RunsError;
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

impl ReaderUnits {
    /// As `--units` takes it.
    pub(super) const fn option(self) -> &'static str {
        match self {
            Self::Si => "si",
            Self::Us => "us",
        }
    }

    /// The paper that goes with them, as `--paper` takes it (common practice).
    pub(super) const fn paper(self) -> &'static str {
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

/// A verdict or a comparison in brief, in hitchwright's words.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Brief {
    /// What it is of.
    pub of: String,
    /// The answer, in large letters.
    pub headline: String,
    /// How a verdict is drawn: `far`, `leaning`, `good`, `looks` or `open`.
    pub look: Option<String>,
    /// What else is told, the weightiest first.
    pub lines: Vec<String>,
}

/// Parses an answer.
pub(super) fn parse_brief(answer: &[u8]) -> Result<InBothUnits<Brief>, RunsError> {
    serde_json::from_slice(answer).map_err(|_| RunsError::NotUnderstood)
}
