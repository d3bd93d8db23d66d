//! What `hitchwright ... --brief --json` says.

use super::RunsError;
use crate::reader_units::InBothUnits;
use serde::{Deserialize, Serialize};

/// A verdict or a comparison in brief, in hitchwright's words.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Brief {
    /// What it is of.
    pub of: String,
    /// The answer, in large letters.
    pub headline: String,
    /// How a verdict is drawn: `far`, `leaning`, `good`, `looks` or `open`.
    pub look: Option<String>,
    /// What to do first, as it stands among the lines, with its caution; none for a comparison.
    pub order: Option<String>,
    /// What else is told, the weightiest first.
    pub lines: Vec<String>,
}

/// Parses an answer.
pub(super) fn parse_brief(answer: &[u8]) -> Result<InBothUnits<Brief>, RunsError> {
    serde_json::from_slice(answer).map_err(|_| RunsError::NotUnderstood)
}
