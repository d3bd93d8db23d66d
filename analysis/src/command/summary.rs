//! `summary`: one run, its verdict and its page.

use super::args::SummaryArgs;
use super::outcome::{CommandError, Done};
use super::output::{self, PageTarget};
use crate::report::units::Units;
use crate::report::{run_content, summary_text};
use crate::summary::{Analysed, analyse};
use page::{Format, Sheets, render};
use signals::run::{Run, load_run};
use std::path::{Path, PathBuf};

pub(super) fn summary(args: &SummaryArgs) -> Result<Done, CommandError> {
    let units = Units::from(args.report.units);
    let page = PageTarget::of(&args.page)?;
    let sheets = if args.detail { Sheets::Two } else { Sheets::One };
    if args.detail && page.as_ref().is_none_or(|page| page.format() != Format::Pdf) {
        return Err(CommandError::Usage("--detail makes two sheets: give a .pdf with -o".to_owned()));
    }
    let mut run = load_run(&args.run).map_err(CommandError::failed)?;
    run.description.run.soil_class = args.soil_class.or(run.description.run.soil_class);
    let analysed = of_folder(&args.run, run)?;
    let mut done = Done::report(if args.report.json {
        output::json(&analysed.summary)?
    } else {
        summary_text(&analysed.summary, &analysed.description.plow, units)
    });
    if let Some(page) = page {
        let content = run_content(&analysed, units);
        let path = page.write(|paper, format| render(&content, paper, format, sheets))?;
        done.remarks.push(format!("page: {path}"));
    }
    Ok(done)
}

/// Reads and analyses a run; errors name its folder.
fn analysed(folder: &Path) -> Result<Analysed, CommandError> {
    of_folder(folder, load_run(folder).map_err(CommandError::failed)?)
}

fn of_folder(folder: &Path, run: Run) -> Result<Analysed, CommandError> {
    analyse(run).map_err(|error| CommandError::failed(format!("{}: {error}", folder.display())))
}

/// Reads and analyses runs, with a bar on a terminal.
pub(super) fn all_analysed(folders: &[PathBuf]) -> Result<Vec<Analysed>, CommandError> {
    let progress = output::progress(folders.len(), "analyzing");
    let all = folders
        .iter()
        .map(|folder| {
            let analysed = analysed(folder);
            progress.inc(1);
            analysed
        })
        .collect();
    progress.finish_and_clear();
    all
}
