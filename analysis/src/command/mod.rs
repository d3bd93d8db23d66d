//! The commands: what was typed in, a report or a sentence out.

pub mod args;
mod calibrate;
mod check;
mod check_tables;
mod compare;
mod demo;
pub mod describe;
mod handbook;
mod import;
mod output;
mod passes;
mod port_seen;
mod ports;
mod runs;
mod schema;
mod statics;
mod summary;
mod summary_table;
mod typed;

use args::{Cli, Command};
use ingest::cli::{RecordArgs, recorded_line};
use ingest::recorder::RecordError;
use output::{CommandError, Done};
use std::process::ExitCode;

/// Runs a command; errors go to stderr as one sentence.
pub fn run(cli: Cli) -> ExitCode {
    let done = match cli.command {
        Command::Demo(args) => demo::demo(&args),
        Command::Describe(args) => describe::describe(&args),
        Command::Calibrate(args) => calibrate::calibrate(&args),
        Command::Ports(args) => ports::ports(&args),
        Command::Record(args) => record(args),
        Command::Summary(args) => summary::summary(&args),
        Command::Compare(args) => compare::compare(&args),
        Command::Statics(args) => statics::statics(&args),
        Command::Check(args) => check::check(&args),
        Command::Passes(args) => passes::passes(&args),
        Command::Import(args) => import::import(&args),
        Command::Handbook(args) => handbook::handbook(&args),
        Command::Schema(args) => schema::schema(args.report),
    };
    let printed = match done {
        Ok(done) => {
            for remark in &done.remarks {
                output::say(remark);
            }
            output::print(&done.report).map(|()| done.unsound)
        }
        Err(error) => Err(error),
    };
    match printed {
        Ok(unsound) => ExitCode::from(u8::from(unsound)),
        Err(error) => {
            output::say(&format!("hitchwright: {error}"));
            ExitCode::from(match error {
                CommandError::Usage(_) => 2,
                CommandError::Failed(_) => 1,
            })
        }
    }
}

/// `record`: the recorder, under the name of this command.
fn record(args: RecordArgs) -> Result<Done, CommandError> {
    let software = concat!("hitchwright ", env!("CARGO_PKG_VERSION"));
    let recorded = args.run(software).map_err(|error| match error {
        RecordError::Units(why) => CommandError::Usage(why),
        error => error.into(),
    })?;
    Ok(Done::report(recorded_line(&recorded) + "\n"))
}
