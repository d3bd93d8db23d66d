//! `check`: is a run whole, and what did the recorder note? With `--repair`, a run that is not whole is made so first.

use super::args::CheckArgs;
use super::check_tables::{CheckedGnss, CheckedTable, checked_gnss, checked_tables, gnss_text, table_text};
use super::output::{self, CommandError, Done, make_folder};
use super::runs::named_run;
use crate::report::units::Units;
use crate::report::words::notices::notice;
use ingest::assemble::EventKind;
use ingest::open_run::open_run;
use ingest::plow::read_plow;
use ingest::rebuild::{RebuildError, rebuild};
use ingest::repair::Repair;
use ingest::run_folder::{datapackage, fill_new_folder, write_whole};
use ingest::run_toml::RunState;
use schemars::JsonSchema;
use serde::Serialize;
use signals::run::{CsvError, RunError};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;

/// What `check` found.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Checked {
    /// Name of the run.
    run: String,
    /// How it ended.
    state: RunState,
    /// Whether the recording was ended properly.
    ended_properly: bool,
    /// One for each sensor box; one for a run that was imported.
    tables: Vec<CheckedTable>,
    /// The GNSS receiver, if there was one.
    gnss: Option<CheckedGnss>,
    /// How often each kind of event happened.
    events: BTreeMap<&'static str, usize>,
    /// Whether the tables are byte for byte what the raw bytes give; null where the raw bytes are not there.
    rebuilds: Option<bool>,
    /// What `--repair` would put right.
    to_repair: Vec<String>,
    /// What was put right now.
    repaired: Vec<String>,
    /// What else is to be known, a sentence each.
    notices: Vec<String>,
}

pub(super) fn check(args: &CheckArgs) -> Result<Done, CommandError> {
    let args = &CheckArgs { run: named_run(&args.run)?, ..args.clone() };
    if let Some(folder) = &args.rebuild_into {
        return rebuild_into(args, folder);
    }
    let repaired = if args.repair { repair(&args.run)? } else { Vec::new() };
    check_run(args, &repaired).inspect_err(|_| {
        for line in &repaired {
            output::say(line);
        }
    })
}

fn check_run(args: &CheckArgs, repaired: &[String]) -> Result<Done, CommandError> {
    let run = output::load(&args.run).map_err(|error| match error {
        // What is to be repaired can be what keeps the run from being read.
        RunError::Readings(CsvError::TooLarge { .. } | CsvError::NoMemory { .. }) => error.into(),
        _ => or_repair(&args.run, error),
    })?;
    let state = run.description.run.state;
    let happened = EventKind::ALL.iter().map(|&kind| (kind.name(), run.count(kind)));
    let events: BTreeMap<&'static str, usize> = happened.filter(|(_, times)| *times > 0).collect();
    let plow = &run.description.plow;
    let units = Units::of_reader(None, plow.units).map_err(CommandError::Usage)?.unwrap_or_default();
    let mut notices: Vec<String> = run.notices.iter().map(|one| notice(one, plow, units)).collect();
    let repair = Repair::of(&args.run)?;
    notices.extend(repair.notices.iter().cloned());
    let rebuilds = if run.description.boxes.is_empty() {
        notices.push("imported from another logger: there are no raw bytes to rebuild it from".to_owned());
        None
    } else if !repair.missing_wires.is_empty() {
        // The readings can be used without them.
        notices.extend(
            repair.missing_wires.iter().map(|path| RebuildError::NoRawBytes(path.clone()).to_string()),
        );
        None
    } else {
        notices.extend(repair.differing.iter().map(|name| {
            format!(
                "{}: not what the raw bytes give; --rebuild-into makes a run folder that is",
                args.run.join(name).display()
            )
        }));
        Some(repair.differing.is_empty())
    };
    if repair.still_recording {
        notices.push("a recorder is writing into this run".to_owned());
    }
    notices.extend(repair.beyond_repair().map(ToString::to_string));
    let to_repair = if repair.still_recording { Vec::new() } else { would_do(&repair) };
    let (id, tables, gnss) = (run.description.run.id.clone(), checked_tables(&run), checked_gnss(&run));
    let (ended_properly, repaired) = (run.description.ended_properly(), repaired.to_vec());
    let checked = Checked {
        run: id,
        state,
        ended_properly,
        tables,
        gnss,
        events,
        rebuilds,
        to_repair,
        repaired,
        notices,
    };
    let report = if args.json { output::json(&checked)? } else { text(&checked) };
    let unsound = checked.rebuilds == Some(false) || run.missing_rows().next().is_some();
    Ok(Done { unsound, ..Done::report(report) })
}

/// Why a run cannot be read, and what a repair would do about it.
fn or_repair(folder: &Path, error: RunError) -> CommandError {
    match Repair::of(folder) {
        Ok(repair) if !(repair.is_nothing() || repair.still_recording) => CommandError::failed(format!(
            "{error}; --repair would put right: {}",
            would_do(&repair).join("; ")
        )),
        _ => error.into(),
    }
}

/// What a repair does, one sentence each.
fn would_do(repair: &Repair) -> Vec<String> {
    repair.put_right().map(ToString::to_string).collect()
}

/// Makes the run whole; gives what was done, one sentence each.
fn repair(folder: &Path) -> Result<Vec<String>, CommandError> {
    let repair = Repair::of(folder)?;
    let kept = repair.carry_out(|name, bytes| write_whole(&folder.join(name), bytes))?;
    if repair.is_nothing() {
        return Ok(vec!["nothing to repair".to_owned()]);
    }
    let mut done: Vec<String> =
        would_do(&repair).into_iter().map(|what| format!("repaired: {what}")).collect();
    done.extend(
        kept.into_iter().map(|name| format!("kept as it was before: {}", folder.join(name).display())),
    );
    Ok(done)
}

fn text(checked: &Checked) -> String {
    let mut text = String::new();
    for line in &checked.repaired {
        let _ = writeln!(text, "{line}");
    }
    let ended = match checked.state {
        RunState::Recording => "not ended properly",
        RunState::Repaired => "not ended properly, and repaired",
        RunState::Ended | RunState::Imported => "ended properly",
    };
    let _ = writeln!(text, "{}: {ended}", checked.run);
    for table in &checked.tables {
        text.push_str(&table_text(table));
    }
    if let Some(gnss) = &checked.gnss {
        text.push_str(&gnss_text(gnss));
    }
    let rebuilds = match checked.rebuilds {
        Some(true) => "the tables are byte for byte what the raw bytes give",
        Some(false) => "the tables are NOT what the raw bytes give",
        None => "no raw bytes",
    };
    let _ = writeln!(text, "{rebuilds}");
    for (kind, times) in &checked.events {
        let _ = writeln!(text, "event {kind}: {times}");
    }
    for notice in &checked.notices {
        let _ = writeln!(text, "note: {notice}");
    }
    for what in &checked.to_repair {
        let _ = writeln!(text, "--repair would put right: {what}");
    }
    text
}

/// Writes a run folder with the tables that the raw bytes give, the raw bytes beside them.
fn rebuild_into(args: &CheckArgs, folder: &Path) -> Result<Done, CommandError> {
    let opened = open_run(&args.run)?;
    let plow = args.plow.as_deref().map(read_plow).transpose()?;
    let rebuilt = rebuild(&args.run, plow.as_ref())?;
    make_folder(
        folder,
        " is there already; --rebuild-into never writes into what is there: name a new folder",
    )?;
    let mut description = opened.description;
    if let Some(plow) = plow {
        (description.plow.sensors, description.plow.own_sensors) = (plow.sensors, plow.own_sensors);
    }
    fill_new_folder(folder, || {
        for file in &rebuilt.files {
            output::write(&folder.join(&file.name), &file.bytes)?;
        }
        output::write(&folder.join("run.toml"), description.to_toml()?.as_bytes())?;
        // Other sensors may fill other columns, in other units.
        let files = args.plow.as_ref().map(|_| rebuilt.rows_files(&description));
        if let Some(files) = &files {
            let package = datapackage(&description.run.id, files, description.gnss.is_some());
            output::write(&folder.join("datapackage.json"), package.as_bytes())?;
        }
        let package = files.is_none().then(|| "datapackage.json".to_owned());
        for name in description.wire_files().into_iter().chain(package) {
            let (from, to) = (args.run.join(&name), folder.join(&name));
            std::fs::copy(&from, &to).map_err(|cause| CommandError::at(&to, cause))?;
        }
        Ok::<_, CommandError>(())
    })?;
    let mut remarks = rebuilt.notices;
    remarks.push(format!("rebuilt into {}", folder.display()));
    Ok(Done::say(remarks))
}
