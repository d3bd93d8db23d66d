//! How a command ends: a report with remarks, or a sentence that says why not.

use ingest::plow::Plow;
use std::path::Path;

/// Why a command did not do its work. Each is one sentence.
#[derive(Debug, thiserror::Error)]
pub enum CommandError {
    /// It was typed wrongly: exit status 2.
    #[error("{0} (see --help)")]
    Usage(String),
    /// The work failed: exit status 1.
    #[error("{0}")]
    Failed(#[source] Box<dyn std::error::Error + Send + Sync>),
}

impl CommandError {
    /// The work failed with this error, or for this reason.
    pub fn failed(error: impl Into<Box<dyn std::error::Error + Send + Sync>>) -> Self {
        Self::Failed(error.into())
    }
}

/// What a command has to say when its work is done.
#[derive(Debug, Default)]
pub(super) struct Done {
    /// The report, for stdout.
    pub report: String,
    /// Remarks beside it, for stderr, a line each.
    pub remarks: Vec<String>,
    /// The work is done, but what it was asked is answered with no: exit status 1.
    pub unsound: bool,
}

impl Done {
    pub fn report(report: String) -> Self {
        Self { report, ..Self::default() }
    }

    pub fn say(remarks: Vec<String>) -> Self {
        Self { remarks, ..Self::default() }
    }
}

/// What to say when a plow has no setting of this name.
pub(super) fn no_such_setting(plow: &Plow, path: &Path, name: &str) -> String {
    let known: Vec<_> = plow.settings.keys().map(String::as_str).collect();
    format!("{}: there is no setting '{name}' (settings: {})", path.display(), known.join(", "))
}
