//! `import`: any logger's CSV into run folders, its rows in the columns and units of a run.

mod at_work;
mod clock;
mod columns;
mod doubt;
mod guess;
mod head;
mod letters;
mod logger_file;
mod look;
mod own;
mod pieces;
mod stamp;
mod twice;

// By its place as that of a sibling: the fuzz target has it so.
use crate::codes;

use super::args::ImportArgs;
use super::output::{CommandError, Done, setting_of, write};
use crate::report::units::Units;
use crate::report::words::counted;
use codes::{Missing, question};
use columns::Columns;
use doubt::unit_in_doubt;
use ingest::assemble::Row;
use ingest::csv_text::{EVENTS_HEADER, push_row, rows_header};
use ingest::passes::cannot_find;
use ingest::plow::{Plow, Setting, read_plow};
use ingest::quantity::SaidIn;
use ingest::row_columns::RowColumns;
use ingest::run_folder::{
    RowsFile, create_parent, create_run_folder, datapackage, fill_new_folder, run_name,
};
use ingest::run_toml::{RunDescription, RunInfo, RunState};
use jiff::tz::{Offset, TimeZone};
use letters::as_utf8;
use logger_file::{Imported, read_rows};
use pieces::{PASS_S_MIN, passes_of};
use signals::run::CSV_BYTES_MAX;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};

pub(super) fn import(args: &ImportArgs) -> Result<Done, CommandError> {
    if args.look {
        return look_at(args);
    }
    let columns = columns_of(args).map_err(CommandError::Usage)?;
    let (Some(plow_file), Some(setting)) = (&args.plow, &args.setting) else {
        return Err(CommandError::Usage("--plow and --setting are needed".to_owned()));
    };
    let plow = read_plow(plow_file)?;
    let setting = setting_of(&plow, plow_file, setting)?;
    let typed = args.started.as_deref().map(typed_time).transpose()?;
    let files = files_of(&args.files)?;
    let units = Units::of_reader(None, plow.units).map_err(CommandError::Usage)?.unwrap_or_default();
    let described = plow.as_described(units.into());
    let one = |file: &Path| import_file(args, &columns, &plow, setting, typed.as_ref(), file);
    if let [file] = files.as_slice() {
        return Ok(Done::say([described, one(file)?].concat()));
    }
    if typed.is_some() {
        return Err(CommandError::Usage(
            "--started is for one file: without it, each of several has its first date or the file's own time".to_owned(),
        ));
    }
    let mut done = Done::say(described);
    let mut failed = 0;
    for file in &files {
        match one(file) {
            Ok(said) => done.remarks.extend(said.iter().map(|line| format!("{}: {line}", file.display()))),
            Err(error) => {
                failed += 1;
                done.remarks.push(format!("hitchwright: not imported: {error}"));
            }
        }
    }
    done.remarks.push(format!("{} of {} files imported", files.len() - failed, files.len()));
    done.unsound = failed > 0;
    Ok(done)
}

fn columns_of(args: &ImportArgs) -> Result<Columns, String> {
    let columns = Columns::of(&args.columns, args.rate, args.separator, args.decimal_comma)?;
    let missing = Missing::of(&args.missing_values, args.decimal_comma);
    let columns = Columns { skip_rows: args.skip_rows, units_row: args.units_row, missing, ..columns };
    args.time_format.iter().try_fold(columns, |columns, format| columns.with_time_format(format))
}

/// Endings of a logger's file.
const ENDINGS: [&str; 5] = ["csv", "tsv", "txt", "dat", "asc"];

/// The files, those of a folder by name.
fn files_of(typed: &[PathBuf]) -> Result<Vec<PathBuf>, CommandError> {
    let mut files = Vec::new();
    for path in typed {
        if !path.is_dir() {
            files.push(path.clone());
            continue;
        }
        let entries = std::fs::read_dir(path).and_then(|entries| entries.collect::<Result<Vec<_>, _>>());
        let entries = entries.map_err(|cause| CommandError::at(path, cause))?;
        let is_wanted = |path: &PathBuf| {
            let ending = path.extension().map(|ending| ending.to_ascii_lowercase());
            path.is_file() && ENDINGS.iter().any(|known| ending.as_deref() == Some(known.as_ref()))
        };
        let mut within: Vec<PathBuf> =
            entries.into_iter().map(|entry| entry.path()).filter(is_wanted).collect();
        if within.is_empty() {
            let why = format!("no file in this folder ends in .{}", ENDINGS.join(", ."));
            return Err(CommandError::at(path, why));
        }
        within.sort();
        files.extend(within);
    }
    Ok(files)
}

/// Makes the runs of one file, all or none. Says what it took and made.
fn import_file(
    args: &ImportArgs,
    columns: &Columns,
    plow: &Plow,
    (setting_name, setting): (&String, &Setting),
    typed: Option<&jiff::ZonedDateTime>,
    file: &Path,
) -> Result<Vec<String>, CommandError> {
    let mut imported = rows_of(file, columns)?;
    if let Some(why) = question(&imported.codes).or_else(|| unit_in_doubt(columns, &imported)) {
        return Err(CommandError::at(file, why));
    }
    let mut notices = std::mem::take(&mut imported.taken);
    let started = match (typed, imported.began) {
        (Some(typed), _) => typed.clone(),
        (None, Some((at, offset_s))) => {
            let zone = match offset_s {
                None => TimeZone::system(),
                Some(offset_s) => TimeZone::fixed(Offset::from_seconds(offset_s)?),
            };
            at.to_zoned_datetime(zone)?
        }
        (None, None) => {
            let written = file_time(file)?;
            notices.push(format!(
                "the file has no date: taken as driven on {}, when it was last written; --started says another",
                written.strftime("%Y-%m-%d %H:%M")
            ));
            written
        }
    };
    let (columns, plow, of_own) =
        own::described(columns, &imported, plow).map_err(|why| CommandError::at(file, why))?;
    notices.extend(of_own);
    let (roles, plow) = (columns.roles.as_slice(), &plow);
    create_parent(&args.out).map_err(CommandError::failed)?;
    let found = passes_of(plow, roles, &imported.rows);
    let doubtful = at_work::doubtful((plow, setting), roles, &imported.rows);
    if imported.left_out > 0 {
        let rows = counted(imported.left_out, "row", "rows");
        let gaps = if imported.left_out == 1 { "is a gap" } else { "are gaps" };
        notices.push(format!("{rows} without a number in every column {gaps} now"));
    }
    let missing = plow.missing_for_a_verdict(|role| roles.contains(&role));
    if let Some(missing) = &missing {
        notices.push(format!("{missing}: map it with --column too"));
    }
    let said_in = Units::of_reader(None, plow.units).ok().flatten().unwrap_or_default();
    notices
        .extend(doubtful.map(|why| format!("before this run is believed: {}", why.said_in(said_in.into()))));
    let several = found.passes.len() > 1;
    match found.passes.len() {
        0 if found.short > 0 => notices.push(format!(
            "no pass lasts {PASS_S_MIN:.0} s, which a verdict needs: the whole file is one run"
        )),
        0 if missing.is_none() && cannot_find(plow).is_none() => notices.push(
            "as it is read the plow was never in the ground, by its depth (above 0 in the ground) and pull: the whole file is one run".to_owned(),
        ),
        0 | 1 => {}
        count => {
            let short = match found.short {
                0 => String::new(),
                short => {
                    format!(", and {short} more of less than {PASS_S_MIN:.0} s, too short for a verdict")
                }
            };
            notices.push(format!("{count} passes, a run each; headlands left out{short}"));
        }
    }
    let making = Making { args, file, plow, setting_name, setting, started, columns: &columns };
    let whole = 0..imported.rows.len();
    let pieces = if several { found.passes } else { vec![whole] };
    let mut made = Vec::new();
    for (rows, pass) in pieces.into_iter().zip(1..) {
        let rows = imported.rows.get(rows).unwrap_or_default();
        let folder = making.run(rows, several.then_some(pass), &made).inspect_err(|_| {
            // Passes of half a file are no import: the next try would make them twice.
            made.iter().for_each(|folder| drop(std::fs::remove_dir_all(folder)));
        })?;
        notices.push(format!("{} imported into {}", counted(rows.len(), "row", "rows"), folder.display()));
        made.push(folder);
    }
    Ok(notices)
}

/// What all runs of a file have.
struct Making<'a> {
    args: &'a ImportArgs,
    file: &'a Path,
    plow: &'a Plow,
    setting_name: &'a str,
    setting: &'a Setting,
    started: jiff::ZonedDateTime,
    columns: &'a RowColumns,
}

impl Making<'_> {
    /// Makes the run of these rows: of the whole file, or of the pass of this number, beside those that were made of it.
    fn run(&self, rows: &[Row], pass: Option<u32>, made: &[PathBuf]) -> Result<PathBuf, CommandError> {
        let args = self.args;
        let from_us = if pass.is_some() { rows.first().map_or(0, |row| row.t_us) } else { 0 };
        let since = jiff::SignedDuration::from_micros(from_us.cast_signed());
        let started = self.started.checked_add(since)?;
        let rows: Vec<Row> = rows.iter().copied().map(|row| row.earlier_by(from_us)).collect();
        let mut text = rows_header(self.columns);
        rows.iter().for_each(|row| push_row(row, self.columns, &mut text));
        if let Some(run) = twice::run_of_these_rows(&args.out, made, &text).filter(|_| !args.again) {
            let why = format!(
                "the run {run} has these very rows, and a pass that counts twice makes a comparison look surer than it is: \
                 leave it so, take that run away first, or make a second one of them all the same with --again"
            );
            return Err(CommandError::at(self.file, why));
        }
        let folder = create_run_folder(&args.out, &run_name(&started, self.setting_name, pass))
            .map_err(|cause| CommandError::at(&args.out, cause))?;
        let id = file_name(&folder);
        let description = RunDescription {
            run: RunInfo {
                id: id.clone(),
                started: started.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string(),
                setting_name: self.setting_name.to_owned(),
                setting_assumed: false,
                field: args.field.clone(),
                soil: args.soil.clone(),
                soil_class: args.soil_class,
                note: args.note.clone(),
                share: args.share.unwrap_or(self.plow.bottoms.share),
                software: concat!("hitchwright ", env!("CARGO_PKG_VERSION")).to_owned(),
                state: RunState::Imported,
                ended: Some(format!("imported from {}", file_name(self.file))),
                lasted_s: rows.last().map(|row| row.t_us as f64 / 1e6),
            },
            setting: self.setting.clone(),
            plow: self.plow.clone(),
            boxes: Vec::new(),
            gnss: None,
            zero: Vec::new(),
        };
        fill_new_folder(&folder, || write_files(&folder, &id, &description, self.columns, &text))?;
        Ok(folder)
    }
}

/// `--look`: what each file seems to have.
fn look_at(args: &ImportArgs) -> Result<Done, CommandError> {
    let plow = args.plow.as_ref().map_or("plow.toml".to_owned(), |plow| plow.display().to_string());
    let setting = args.setting.as_deref().unwrap_or("NAME");
    let mut reports = Vec::new();
    for file in files_of(&args.files)? {
        let (text, decoded) = text_of(&file)?;
        let report = look::look(&file, (&text, decoded), &plow, setting);
        reports.push(report.map_err(|why| CommandError::at(&file, why))?);
    }
    Ok(Done::report(reports.join("\n")))
}

fn rows_of(path: &Path, columns: &Columns) -> Result<Imported, CommandError> {
    let (text, decoded) = text_of(path)?;
    let mut imported =
        read_rows(Cursor::new(text), columns).map_err(|fault| CommandError::at(path, fault))?;
    imported.taken.splice(0..0, decoded.map(str::to_owned));
    Ok(imported)
}

/// The text of a file that is not too large, and what is to be said of its letters.
fn text_of(path: &Path) -> Result<(Vec<u8>, Option<&'static str>), CommandError> {
    let mut file = std::fs::File::open(path).map_err(|cause| CommandError::at(path, cause))?;
    let bytes = file.metadata().map_err(|cause| CommandError::at(path, cause))?.len();
    if bytes > CSV_BYTES_MAX {
        let (size, max) = (bytes as f64 / 1e9, CSV_BYTES_MAX as f64 / 1e9);
        let why = format!("{size:.1} GB is more than the {max:.1} GB that are read at once; split the file");
        return Err(CommandError::at(path, why));
    }
    let mut bytes = Vec::new();
    file.read_to_end(&mut bytes).map_err(|cause| CommandError::at(path, cause))?;
    Ok(as_utf8(bytes))
}

fn file_name(path: &Path) -> String {
    path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
}

/// The time that was typed, by this computer's clock.
fn typed_time(text: &str) -> Result<jiff::ZonedDateTime, CommandError> {
    let at: jiff::civil::DateTime = text.parse().map_err(|_| {
        CommandError::Usage(format!("--started '{text}' is not a time like 2027-04-11T09:14"))
    })?;
    at.to_zoned_datetime(TimeZone::system())
        .map_err(|error| CommandError::Usage(format!("--started: {error}")))
}

/// When a file was last written.
fn file_time(file: &Path) -> Result<jiff::ZonedDateTime, CommandError> {
    let modified = std::fs::metadata(file)
        .and_then(|about| about.modified())
        .map_err(|cause| CommandError::at(file, cause))?;
    Ok(jiff::Timestamp::try_from(modified)?.to_zoned_datetime(TimeZone::system()))
}

fn write_files(
    folder: &Path,
    id: &str,
    description: &RunDescription,
    columns: &RowColumns,
    rows: &str,
) -> Result<(), CommandError> {
    let toml = description.to_toml()?;
    let files = [RowsFile { name: "plow.csv".into(), columns: columns.clone() }];
    let all: [(&str, &str); 4] = [
        ("plow.csv", rows),
        ("events.csv", EVENTS_HEADER),
        ("datapackage.json", &datapackage(id, &files, false)),
        ("run.toml", &toml),
    ];
    for (name, text) in all {
        write(&folder.join(name), text.as_bytes())?;
    }
    Ok(())
}
