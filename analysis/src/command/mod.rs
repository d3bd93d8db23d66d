//! The commands: what was typed in, a report or a sentence out.

pub mod args;
mod calibrate;
mod check;
mod check_tables;
mod compare;
mod demo;
mod import;
mod import_rows;
mod outcome;
mod output;
mod ports;
mod ports_seen;
mod ports_text;
mod record;
mod statics;
mod statics_of_runs;
mod summary;

use args::{Cli, Command};
use outcome::CommandError;
use std::process::ExitCode;

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
