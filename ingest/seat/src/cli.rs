//! The command line of `hitchwright-recorder`.

use crate::at_seat::Seat;
use clap::{Args, Parser, Subcommand};
use ingest::cli::RecordArgs;
use std::net::SocketAddr;
use std::path::PathBuf;

/// Records the readings of sensor boxes on a plow into a run folder.
///
/// With --port and --setting it records one run; with --config it records by itself, run after run, until it is ended.
#[derive(Debug, Parser)]
#[command(
    name = "hitchwright-recorder",
    version,
    override_usage = "hitchwright-recorder --port <PORT> [OPTIONS]\n       hitchwright-recorder --config <FILE>\n       \
                      hitchwright-recorder <COMMAND>",
    args_conflicts_with_subcommands = true,
    subcommand_negates_reqs = true
)]
pub struct Command {
    #[command(subcommand)]
    action: Option<Action>,
    /// Record unattended, as this file says: waits for the boxes, records run after run, ends on SIGTERM.
    #[arg(long, value_name = "FILE", exclusive = true)]
    config: Option<PathBuf>,
    #[command(flatten)]
    record: Option<RecordArgs>,
    /// Serve a page for the seat at this address, 127.0.0.1:8377 if none is given; without --setting, runs are then
    /// started and stopped there.
    #[arg(long, value_name = "ADDRESS", num_args = 0..=1, default_missing_value = "127.0.0.1:8377", value_parser = address)]
    live: Option<SocketAddr>,
    /// Show the panel for the seat in this terminal; without --setting, runs are then started and stopped there by keys.
    #[arg(long)]
    panel: bool,
}

/// Where a page is served.
fn address(text: &str) -> Result<SocketAddr, String> {
    text.parse().map_err(|_| {
        "an address and a port are wanted, such as 127.0.0.1:8377 (this computer alone) or 0.0.0.0:8377 (phones as well)".to_owned()
    })
}

#[derive(Debug, Subcommand)]
enum Action {
    Links(LinksArgs),
    Copied(CopiedArgs),
    Uncopied(UncopiedArgs),
}

/// Print the links to the page of the unattended recorder, with their QR codes on a terminal.
///
/// Only who may read the file of the tokens gets them. The links stay the same over a restart.
#[derive(Debug, Args)]
pub struct LinksArgs {
    /// What the recorder records, as it was given to --config.
    #[arg(long, value_name = "FILE", default_value = "/etc/hitchwright/recorder.toml")]
    pub config: PathBuf,
}

/// List the runs of a folder that have ended and are not marked as copied, the oldest first: those to copy next.
#[derive(Debug, Args)]
pub struct UncopiedArgs {
    /// Folder in which the runs are.
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
}

/// Mark runs as copied, once their copies are there: an unattended recorder deletes no run that is not.
///
/// The mark is the file copied.toml in the run folder; a run that changes afterwards is not copied any more. Mark only what had
/// ended before it was copied, such as what `hitchwright-recorder uncopied` lists.
#[derive(Debug, Args)]
pub struct CopiedArgs {
    /// Folders of the runs.
    #[arg(value_name = "RUN", required = true)]
    pub runs: Vec<PathBuf>,
}

/// What is to be done.
#[derive(Debug)]
pub enum Task {
    /// Record, and show it so at the seat.
    Record(Box<RecordArgs>, Seat),
    /// Record by itself, as this file says.
    Serve(PathBuf),
    /// Print the links to the page.
    Links(LinksArgs),
    /// Mark these runs as copied.
    Copied(CopiedArgs),
    /// List what is not copied.
    Uncopied(UncopiedArgs),
}

impl Command {
    /// What was asked for; `None` if nothing was, which the parser does not let through.
    #[must_use]
    pub fn task(self) -> Option<Task> {
        let seat = Seat { page: self.live, panel: self.panel };
        match (self.action, self.config, self.record) {
            (Some(Action::Links(args)), _, _) => Some(Task::Links(args)),
            (Some(Action::Copied(args)), _, _) => Some(Task::Copied(args)),
            (Some(Action::Uncopied(args)), _, _) => Some(Task::Uncopied(args)),
            (None, Some(file), _) => Some(Task::Serve(file)),
            (None, None, Some(args)) => Some(Task::Record(Box::new(args), seat)),
            (None, None, None) => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;
    use ingest::quantity::UnitSystem;
    use std::path::Path;

    fn task(arguments: &[&str]) -> Result<Option<Task>, clap::Error> {
        let arguments = ["hitchwright-recorder"].iter().chain(arguments);
        Command::try_parse_from(arguments).map(Command::task)
    }

    #[test]
    fn there_are_five_things_to_ask_for_and_never_two_at_once() {
        Command::command().debug_assert();
        assert!(
            matches!(task(&["--config", "f"]).unwrap(), Some(Task::Serve(file)) if file == Path::new("f"))
        );
        let record = task(&["--port", "p", "--setting", "low"]).unwrap();
        assert!(matches!(record, Some(Task::Record(args, seat)) if args.baud == 115_200 && seat.is_empty()));
        let live = task(&["--port", "p", "--live"]).unwrap();
        assert!(
            matches!(live, Some(Task::Record(_, Seat { page: Some(address), panel: false, .. })) if address.ip().is_loopback())
        );
        let live = task(&["--port", "p", "--live", "0.0.0.0:80"]).unwrap();
        assert!(
            matches!(live, Some(Task::Record(_, Seat { page: Some(address), .. })) if address.port() == 80)
        );
        let both = task(&["--port", "p", "--panel", "--units", "us", "--live"]).unwrap();
        let us = Some(UnitSystem::Us);
        assert!(
            matches!(both, Some(Task::Record(args, Seat { page: Some(_), panel: true })) if args.units == us)
        );
        let page = task(&["--port", "p", "--live", "--units", "us"]).unwrap();
        assert!(matches!(page, Some(Task::Record(args, Seat { panel: false, .. })) if args.units == us));
        // The live line has figures too.
        assert!(task(&["--port", "p", "--units", "us"]).is_ok());
        let copied = task(&["copied", "a", "b"]).unwrap();
        assert!(matches!(copied, Some(Task::Copied(args)) if args.runs.len() == 2));
        let links = task(&["links"]).unwrap();
        assert!(
            matches!(links, Some(Task::Links(args)) if args.config.ends_with("hitchwright/recorder.toml"))
        );
        assert!(matches!(task(&["uncopied", "runs"]).unwrap(), Some(Task::Uncopied(_))));
        for wrong in [
            &[][..],
            &["copied"],
            &["--setting", "low"],
            &["--live"],
            &["--panel"],
            &["--port", "p", "--live", "somewhere"],
            &["--config", "f", "--setting", "low"],
            &["--config", "f", "copied", "a"],
            &["--port", "p", "--setting", "low", "copied", "a"],
        ] {
            assert!(task(wrong).is_err(), "{wrong:?}");
        }
        let why = task(&["--port", "p", "--live", "8377"]).unwrap_err().to_string();
        assert!(why.contains("such as 127.0.0.1:8377"), "{why}");
    }
}
