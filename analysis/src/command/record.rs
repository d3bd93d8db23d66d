//! `record`: the recorder, with the words of this command.

use ingest::cli::RecordArgs;
use std::process::ExitCode;

pub(super) fn record(args: &RecordArgs) -> ExitCode {
    ingest::cli::run("hitchwright", args)
}
