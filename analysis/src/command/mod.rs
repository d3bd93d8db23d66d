//! The commands: what was typed in, a report or a sentence out.

pub mod args;
mod calibrate;
mod check;
mod check_tables;
mod compare;
mod demo;
mod import;
mod import_rows;
mod output;
mod ports;
mod ports_text;
mod record;
mod statics;
mod statics_of_runs;
mod summary;

use args::{Cli, Command};
use ingest::plow::Plow;
use std::path::Path;
use std::process::ExitCode;

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
    fn failed(error: impl Into<Box<dyn std::error::Error + Send + Sync>>) -> Self {
        Self::Failed(error.into())
    }
}

/// What a command has to say when its work is done.
#[derive(Debug, Default)]
struct Done {
    /// The report, for stdout.
    report: String,
    /// Remarks beside it, for stderr, a line each.
    remarks: Vec<String>,
    /// The work is done, but what it was asked is answered with no: exit status 1.
    unsound: bool,
}

impl Done {
    fn report(report: String) -> Self {
        Self { report, ..Self::default() }
    }

    fn say(remarks: Vec<String>) -> Self {
        Self { remarks, ..Self::default() }
    }
}

/// Runs a command; errors go to stderr as one sentence.
#[must_use]
pub fn run(cli: Cli) -> ExitCode {
    let done = match cli.command {
        Command::Demo(args) => demo::demo(&args),
        Command::Calibrate(args) => calibrate::calibrate(&args),
        Command::Ports(args) => ports::ports(&args),
        Command::Record(args) => record::record(args),
        Command::Summary(args) => summary::summary(&args),
        Command::Compare(args) => compare::compare(&args),
        Command::Statics(args) => statics::statics(&args),
        Command::Check(args) => check::check(&args),
        Command::Import(args) => import::import(&args),
    };
    match done {
        Ok(done) => {
            for remark in &done.remarks {
                output::say(remark);
            }
            if let Err(error) = output::print(&done.report) {
                output::say(&format!("hitchwright: {error}"));
                return ExitCode::from(1);
            }
            ExitCode::from(u8::from(done.unsound))
        }
        Err(error) => {
            output::say(&format!("hitchwright: {error}"));
            ExitCode::from(match error {
                CommandError::Usage(_) => 2,
                CommandError::Failed(_) => 1,
            })
        }
    }
}

/// What to say when a plow has no setting of this name.
fn no_such_setting(plow: &Plow, path: &Path, name: &str) -> String {
    let known: Vec<_> = plow.settings.keys().map(String::as_str).collect();
    format!("{}: there is no setting '{name}' (settings: {})", path.display(), known.join(", "))
}
