//! `summary`: one run, its verdict and its page; or several, as a table.

use super::args::SummaryArgs;
use super::output::{self, CommandError, Done, PageTarget};
use super::runs::{named_once, named_runs};
use super::summary_table::Table;
use crate::report::units::Units;
use crate::report::{Brief, InBothUnits, run_content, summary_text};
use crate::summary::{Analysed, analyse};
use ingest::plow::SoilClass;
use ingest::quantity::SaidIn;
use page::{Format, Sheets};
use std::path::{Path, PathBuf};

pub(super) fn summary(args: &SummaryArgs) -> Result<Done, CommandError> {
    let runs = named_runs(&args.runs)?;
    if args.csv {
        return table(args, &runs);
    }
    let [run] = &runs[..] else {
        return Err(CommandError::Usage(format!(
            "{} runs are named, and a summary is of one: name that one, or add --csv for a table of all; `compare` holds those \
             of one setting against those of another",
            runs.len()
        )));
    };
    let page = PageTarget::of(&args.page)?;
    let sheets = if args.detail { Sheets::Two } else { Sheets::One };
    if args.detail && page.as_ref().is_none_or(|page| page.format != Format::Pdf) {
        return Err(CommandError::Usage("--detail makes two sheets: give a .pdf with -o".to_owned()));
    }
    let mut analysed = analysed(run, args.soil_class, args.report.how.units)?;
    let missing = if args.spectra { put_spectra(&mut analysed) } else { Vec::new() };
    let (summary, plow) = (&analysed.summary, &analysed.description.plow);
    let units = args.report.how.units(Some(plow))?;
    let mut done = Done::report(match (args.report.brief, args.report.how.json) {
        (false, true) => output::json(summary)?,
        (false, false) => summary_text(summary, plow, units),
        (true, true) => output::json(&InBothUnits::of(|units| Brief::of_run(summary, plow, units)))?,
        (true, false) => Brief::of_run(summary, plow, units).text(),
    });
    done.remarks.extend(missing);
    done.remarks.extend(plow.doubts());
    if let Some(page) = page {
        let path = page.write(&run_content(&analysed, units), sheets)?;
        done.remarks.push(format!("page: {path}"));
    }
    Ok(done)
}

/// Adds the spectra of the user's own columns; says which have none, and why.
fn put_spectra(analysed: &mut Analysed) -> Vec<String> {
    let part = analysed.summary.working_part;
    let mut missing = Vec::new();
    for (own, figures) in analysed.own.iter().zip(&mut analysed.summary.own_columns) {
        match own.spectrum(part) {
            Ok(spectrum) => figures.spectrum = Some(spectrum),
            Err(why) => missing.push(why),
        }
    }
    missing
}

/// One row a run. A run that cannot be analyzed is told, and does not take the others with it.
fn table(args: &SummaryArgs, runs: &[PathBuf]) -> Result<Done, CommandError> {
    named_once(&[runs])?;
    let file = args.page.output.as_ref();
    file.map_or(Ok(()), |path| output::file_for_option("-o", path, "csv"))?;
    let (mut table, mut done) = (Table::new(), Done::default());
    let progress = output::progress(runs.len(), "analyzing");
    for run in runs {
        let analysed = analysed(run, args.soil_class, args.report.how.units).inspect_err(|error| {
            done.remarks.push(format!("hitchwright: {error}; its row is empty"));
            done.unsound = true;
        });
        table.add(run, analysed.ok().as_ref().map(|analysed| &analysed.summary))?;
        progress.inc(1);
    }
    progress.finish_and_clear();
    let text = table.into_text()?;
    match file {
        Some(path) => {
            output::write(path, text.as_bytes())?;
            done.remarks.push(format!("table: {}", path.display()));
        }
        None => done.report = text,
    }
    Ok(done)
}

/// Reads and analyses a run; errors name its folder, and are in the units of whoever reads.
fn analysed(
    folder: &Path,
    soil_class: Option<SoilClass>,
    asked: Option<Units>,
) -> Result<Analysed, CommandError> {
    let mut run = output::load(folder)?;
    run.description.run.soil_class = soil_class.or(run.description.run.soil_class);
    let described = run.description.plow.units;
    analyse(run).map_err(|error| {
        // That the variable of the environment is no unit is told where it is read for the report.
        let units = Units::of_reader(asked, described).ok().flatten().unwrap_or_default();
        CommandError::at(folder, error.said_in(units.into()))
    })
}

/// Reads and analyses runs, with a bar on a terminal.
pub(super) fn all_analysed(folders: &[PathBuf], asked: Option<Units>) -> Result<Vec<Analysed>, CommandError> {
    let progress = output::progress(folders.len(), "analyzing");
    let all = folders
        .iter()
        .map(|folder| {
            let analysed = analysed(folder, None, asked);
            progress.inc(1);
            analysed
        })
        .collect();
    progress.finish_and_clear();
    all
}
