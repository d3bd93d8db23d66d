//! What may be typed behind `schema`.

use clap::{Args, ValueEnum};

/// A report that can be had as JSON.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(in super::super) enum Report {
    /// summary --json
    Summary,
    /// summary --brief --json and compare --brief --json
    Brief,
    /// compare --json
    Compare,
    /// statics --json
    Statics,
    /// statics --runs --json
    StaticsRuns,
    /// check --json
    Check,
    /// calibrate --json
    Calibrate,
    /// ports --json
    Ports,
}

#[derive(Debug, Args)]
pub(in super::super) struct SchemaArgs {
    /// Of which report
    #[arg(value_name = "REPORT", value_enum)]
    pub(in super::super) report: Report,
}
