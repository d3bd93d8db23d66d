//! `check`: is a run whole, and what did the recorder note?

use super::args::CheckArgs;
use super::check_tables::{CheckedGnss, CheckedTable, checked_gnss, checked_tables, gnss_text, table_text};
use super::outcome::{CommandError, Done};
use super::output;
use crate::report::words::notices::notice;
use ingest::assemble::EventKind;
use ingest::open_run::open_run;
use ingest::plow::read_plow;
use ingest::rebuild::{RebuildError, Rebuilt, rebuild};
use ingest::run_folder::{fill_new_folder, write_whole};
use serde::Serialize;
use signals::run::load_run;
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;

/// What `check` found.
#[derive(Debug, Serialize)]
struct Checked {
    run: String,
    ended_properly: bool,
    /// One for each sensor box; one for a run that was imported.
    tables: Vec<CheckedTable>,
    /// The GNSS receiver, if there was one.
    gnss: Option<CheckedGnss>,
    /// How often each kind of event happened.
    events: BTreeMap<&'static str, usize>,
    /// Whether the tables are byte for byte what the raw bytes give; null where the raw bytes are not there.
    rebuilds: Option<bool>,
    notices: Vec<String>,
}

pub(super) fn check(args: &CheckArgs) -> Result<Done, CommandError> {
    if let Some(folder) = &args.rebuild_into {
        return rebuild_into(args, folder);
    }
    let run = load_run(&args.run).map_err(CommandError::failed)?;
    let ended_properly = run.description.ended_properly();
    let mut events: BTreeMap<&'static str, usize> = BTreeMap::new();
    for &kind in EventKind::ALL {
        let times = run.count(kind);
        if times > 0 {
            events.insert(kind.name(), times);
        }
    }
    let plow = &run.description.plow;
    let mut notices: Vec<String> = run.notices.iter().map(|one| notice(one, plow)).collect();
    let rebuilds = if run.description.boxes.is_empty() {
        notices.push("imported from another logger: there are no raw bytes to rebuild it from".to_owned());
        None
    } else {
        match rebuild(&args.run, None) {
            Ok(rebuilt) => {
                notices.extend(rebuilt.notices.iter().cloned());
                Some(same_as_on_disk(&args.run, &rebuilt, ended_properly, &mut notices))
            }
            // The readings can be used without them.
            Err(error @ RebuildError::NoRawBytes { .. }) => {
                notices.push(error.to_string());
                None
            }
            Err(error) => return Err(CommandError::failed(error)),
        }
    };
    let checked = Checked {
        run: run.description.run.id.clone(),
        ended_properly,
        tables: checked_tables(&run),
        gnss: checked_gnss(&run),
        events,
        rebuilds,
        notices,
    };
    let report = if args.json { output::json(&checked)? } else { text(&checked) };
    let unsound = checked.rebuilds == Some(false) || run.missing_rows().next().is_some();
    Ok(Done { unsound, ..Done::report(report) })
}

/// Whether each table is what the raw bytes give. Of a run that was not ended properly the raw bytes may
/// hold more than the tables, which are written after them.
fn same_as_on_disk(
    folder: &Path,
    rebuilt: &Rebuilt,
    ended_properly: bool,
    notices: &mut Vec<String>,
) -> bool {
    let mut same = true;
    for file in &rebuilt.files {
        let path = folder.join(&file.name);
        let on_disk = std::fs::read(&path).unwrap_or_default();
        let equal =
            on_disk == file.bytes || (!ended_properly && file.bytes.starts_with(whole_rows(&on_disk)));
        if !equal {
            notices.push(format!(
                "{}: not what the raw bytes give; --rebuild-into makes a run folder that is",
                path.display()
            ));
            same = false;
        }
    }
    same
}

fn whole_rows(bytes: &[u8]) -> &[u8] {
    let end = bytes.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
    bytes.get(..end).unwrap_or_default()
}

fn text(checked: &Checked) -> String {
    let mut text = String::new();
    let ended = if checked.ended_properly { "ended properly" } else { "not ended properly" };
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
    text
}

/// Writes a run folder with the tables that the raw bytes give, the raw bytes beside them.
fn rebuild_into(args: &CheckArgs, folder: &Path) -> Result<Done, CommandError> {
    let opened = open_run(&args.run).map_err(CommandError::failed)?;
    let plow = args.plow.as_ref().map(|path| read_plow(path).map_err(CommandError::failed)).transpose()?;
    let rebuilt = rebuild(&args.run, plow.as_ref()).map_err(CommandError::failed)?;
    let here =
        |path: &Path, cause: std::io::Error| CommandError::failed(format!("{}: {cause}", path.display()));
    std::fs::create_dir(folder).map_err(|cause| match cause.kind() {
        std::io::ErrorKind::AlreadyExists => CommandError::failed(format!(
            "{} is there already; --rebuild-into never writes into what is there: name a new folder",
            folder.display()
        )),
        _ => here(folder, cause),
    })?;
    let mut description = opened.description;
    if let Some(plow) = plow {
        description.plow.sensors = plow.sensors;
    }
    fill_new_folder(folder, || {
        for file in &rebuilt.files {
            let path = folder.join(&file.name);
            write_whole(&path, &file.bytes).map_err(|cause| here(&path, cause))?;
        }
        let toml = description.to_toml().map_err(CommandError::failed)?;
        let path = folder.join("run.toml");
        write_whole(&path, toml.as_bytes()).map_err(|cause| here(&path, cause))?;
        for name in description.wire_files().into_iter().chain(["datapackage.json".to_owned()]) {
            let (from, to) = (args.run.join(&name), folder.join(&name));
            std::fs::copy(&from, &to).map_err(|cause| here(&to, cause))?;
        }
        Ok(())
    })?;
    let mut done = Done::say(rebuilt.notices.clone());
    done.remarks.push(format!("rebuilt into {}", folder.display()));
    Ok(done)
}
