//! The recorder for the computer on the tractor: no charts, no analysis, a small program.

use clap::{CommandFactory, Parser};
use ingest::cli::{RecordArgs, recorded_line};
use ingest::recorder::RecordError;
use seat::at_seat::{LiveError, Seat, record_live};
use seat::characters::Characters;
use seat::cli::{Command, CopiedArgs, Task, UncopiedArgs};
use seat::server::{has_color, said};
use seat::service::copied::{mark_copied, uncopied_in};
use seat::service::{ServiceError, page_links, run};
use std::io::{IsTerminal, Write};
use std::path::Path;
use std::process::ExitCode;

const SOFTWARE: &str = concat!("hitchwright-recorder ", env!("CARGO_PKG_VERSION"));
/// Status of wrong use, of which a description that cannot be used is a kind: starting again changes nothing.
const WRONG_USE: u8 = 2;

fn main() -> ExitCode {
    match Command::parse().task() {
        Some(Task::Record(args, seat)) => record(*args, seat),
        Some(Task::Serve(file)) => serve(&file),
        Some(Task::Links(args)) => links(&args.config),
        Some(Task::Copied(args)) => copied(&args),
        Some(Task::Uncopied(args)) => uncopied(&args),
        None => {
            say(&Command::command().render_help());
            ExitCode::from(WRONG_USE)
        }
    }
}

fn say(what: &dyn std::fmt::Display) {
    // Nobody may be reading any more.
    let _ = writeln!(std::io::stderr(), "{what}");
}

fn failed(error: &dyn std::fmt::Display) -> ExitCode {
    say(&format_args!("hitchwright-recorder: {error}"));
    ExitCode::FAILURE
}

fn record(args: RecordArgs, seat: Seat) -> ExitCode {
    let recorded = if seat.is_empty() {
        args.run(SOFTWARE).map_err(LiveError::from)
    } else {
        record_live(args, seat, SOFTWARE)
    };
    match recorded {
        Ok(recorded) => {
            // Nobody may be reading any more; the run is on the disk all the same.
            let _ = writeln!(std::io::stdout(), "{}", recorded_line(&recorded));
            ExitCode::SUCCESS
        }
        Err(error) => {
            let status = failed(&error);
            if matches!(error, LiveError::Record(RecordError::Units(_))) {
                ExitCode::from(WRONG_USE)
            } else {
                status
            }
        }
    }
}

fn serve(file: &Path) -> ExitCode {
    match run(file, SOFTWARE) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            let status = failed(&error);
            if matches!(error, ServiceError::Config(_)) { ExitCode::from(WRONG_USE) } else { status }
        }
    }
}

fn links(config: &Path) -> ExitCode {
    match page_links(config) {
        Ok(links) => {
            let is_terminal = std::io::stdout().is_terminal();
            let variable = |name: &str| std::env::var(name).ok();
            let color = is_terminal && has_color(variable);
            let codes = is_terminal.then(|| Characters::of_locale(variable));
            for line in said(&links, codes) {
                let _ = writeln!(std::io::stdout(), "{}", line.on_terminal(color));
            }
            ExitCode::SUCCESS
        }
        Err(error) => failed(&error),
    }
}

fn copied(args: &CopiedArgs) -> ExitCode {
    let mut status = ExitCode::SUCCESS;
    for run in &args.runs {
        if let Err(error) = mark_copied(run) {
            status = failed(&error);
        }
    }
    status
}

fn uncopied(args: &UncopiedArgs) -> ExitCode {
    match uncopied_in(&args.folder) {
        Ok((runs, unreadable)) => {
            for run in runs {
                let _ = writeln!(std::io::stdout(), "{}", run.display());
            }
            unreadable.iter().fold(ExitCode::SUCCESS, |_, why| failed(why))
        }
        Err(error) => failed(&format_args!("{}: {error}", args.folder.display())),
    }
}
