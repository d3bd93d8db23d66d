//! The recorder for the computer on the tractor: no charts, no analysis, a small program.

use clap::Parser;
use ingest::cli::{RecordArgs, recorded_line};
use ingest::recorder::StderrView;
use std::io::Write;
use std::process::ExitCode;

/// Records the readings of sensor boxes on a plow into a run folder.
#[derive(Debug, Parser)]
#[command(name = "hitchwright-recorder", version)]
struct Command {
    #[command(flatten)]
    record: RecordArgs,
}

fn main() -> ExitCode {
    let command = Command::parse();
    let software = concat!("hitchwright-recorder ", env!("CARGO_PKG_VERSION"));
    match command.record.run(software, &mut StderrView::default()) {
        Ok(recorded) => {
            // Nobody may be reading any more; the run is on the disk all the same.
            let _ = writeln!(std::io::stdout(), "{}", recorded_line(&recorded));
            ExitCode::SUCCESS
        }
        Err(error) => {
            let _ = writeln!(std::io::stderr(), "hitchwright-recorder: {error}");
            ExitCode::FAILURE
        }
    }
}
