//! `record`: the recorder, under the name of this command.

use super::outcome::{CommandError, Done};
use ingest::cli::{RecordArgs, recorded_line};
use ingest::recorder::StderrView;

pub(super) fn record(args: RecordArgs) -> Result<Done, CommandError> {
    let software = concat!("hitchwright ", env!("CARGO_PKG_VERSION"));
    let run = args.run(software, &mut StderrView::default()).map_err(CommandError::failed)?;
    Ok(Done::report(recorded_line(&run) + "\n"))
}
