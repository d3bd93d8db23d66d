//! The `hitchwright` command.

use analysis::command::{args::Cli, run};
use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    run(Cli::parse())
}
