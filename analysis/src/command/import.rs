//! `import`: any logger's CSV into a run folder.

use super::args::ImportArgs;
use super::import_rows::{Source, in_column_order, read_rows};
use super::outcome::{CommandError, Done};
use ingest::assemble::Row;
use ingest::csv_text::{EVENTS_HEADER, push_row, rows_header};
use ingest::plow::{ChannelRole, Plow, read_plow};
use ingest::quantity::{Unit, unit_for};
use ingest::run_folder::{RowsFile, create_run_folder, datapackage, fill_new_folder, run_name, write_whole};
use ingest::run_toml::{RunDescription, RunInfo, RunState};
use std::path::{Path, PathBuf};

pub(super) fn import(args: &ImportArgs) -> Result<Done, CommandError> {
    let sources = args.columns.iter().map(|text| source_of(text)).collect::<Result<Vec<_>, _>>()?;
    check_sources(&sources, args)?;
    let plow = read_plow(&args.plow).map_err(CommandError::failed)?;
    let setting = plow.settings.get(&args.setting).cloned().ok_or_else(|| unknown_setting(&plow, args))?;
    let started = started(args)?;
    let imported = read_rows(args, &sources)?;
    let roles: Vec<ChannelRole> = in_column_order(&sources).into_iter().filter_map(|s| s.role).collect();
    std::fs::create_dir_all(&args.out)
        .map_err(|cause| CommandError::failed(format!("{}: {cause}", args.out.display())))?;
    let folder = create_run_folder(&args.out, &run_name(&started, &args.setting))
        .map_err(|cause| CommandError::failed(format!("{}: {cause}", args.out.display())))?;
    let id = folder.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let last = imported.rows.last().map(|row| row.t_us as f64 / 1e6);
    let description = RunDescription {
        run: RunInfo {
            id: id.clone(),
            started: started.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string(),
            setting_name: args.setting.clone(),
            field: args.field.clone(),
            soil: args.soil.clone(),
            soil_class: args.soil_class,
            note: args.note.clone(),
            share: args.share.unwrap_or(plow.bottoms.share),
            software: concat!("hitchwright ", env!("CARGO_PKG_VERSION")).to_owned(),
            state: RunState::Imported,
            ended: Some(format!("imported from {}", file_name(&args.file))),
            lasted_s: last,
        },
        setting,
        plow,
        boxes: Vec::new(),
        gnss: None,
    };
    fill_new_folder(&folder, || write_files(&folder, &id, &description, &roles, &imported.rows))?;
    let mut notices = Vec::new();
    if imported.left_out > 0 {
        notices.push(format!("{} rows without a number in every column are gaps now", imported.left_out));
    }
    if let Some(missing) = description.plow.missing_for_a_verdict(|role| roles.contains(&role)) {
        notices.push(format!("{missing}: map it with --column too"));
    }
    notices.push(format!("{} rows imported into {}", imported.rows.len(), folder.display()));
    Ok(Done::say(notices))
}

fn file_name(path: &Path) -> String {
    path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
}

fn unknown_setting(plow: &Plow, args: &ImportArgs) -> CommandError {
    CommandError::failed(super::outcome::no_such_setting(plow, &args.plow, &args.setting))
}

/// `pull_n=Force:kN`.
fn source_of(text: &str) -> Result<Source, CommandError> {
    let wrong = |why: String| CommandError::Usage(format!("--column '{text}': {why}"));
    let (column, rest) =
        text.split_once('=').ok_or_else(|| wrong("write RUN_COLUMN=NAME, such as pull_n=Force:kN".into()))?;
    let (name, unit) = match rest.rsplit_once(':') {
        Some((name, unit)) => (name, Some(unit)),
        None => (rest, None),
    };
    let role = match column {
        "t_s" => None,
        _ => Some(ChannelRole::of_column(column).ok_or_else(|| {
            let known: Vec<_> = ChannelRole::ALL.iter().map(|role| role.column()).collect();
            wrong(format!("'{column}' is not a column of a run (columns: t_s, {})", known.join(", ")))
        })?),
    };
    let own = role.map_or(Unit::SECOND, ChannelRole::column_unit);
    let factor = match unit {
        None => 1.0,
        Some(symbol) => {
            let unit =
                unit_for(own.dimension, symbol).map_err(|error| wrong(format!("'{symbol}' {error}")))?;
            unit.per(own)
        }
    };
    Ok(Source { role, name: name.to_owned(), factor })
}

fn check_sources(sources: &[Source], args: &ImportArgs) -> Result<(), CommandError> {
    let usage = |why: &str| Err(CommandError::Usage(why.to_owned()));
    let times = sources.iter().filter(|source| source.role.is_none()).count();
    for (index, source) in sources.iter().enumerate() {
        if sources.iter().skip(index + 1).any(|other| other.role == source.role) {
            return usage("--column: a column of the run is filled twice");
        }
    }
    match (times, args.rate) {
        (1, Some(_)) => usage("the time comes from --column t_s=… or from --rate, not from both"),
        (0, None) => usage("a time is needed: --column t_s=NAME:s, or --rate HZ for a file without one"),
        (_, Some(rate)) if !(rate.is_finite() && rate > 0.0) => usage("--rate must be above 0"),
        _ if args.decimal_comma && args.separator == ',' => {
            usage("--decimal-comma needs another --separator, such as --separator ';'")
        }
        _ if !args.separator.is_ascii() => usage("--separator must be an ASCII character"),
        _ => Ok(()),
    }
}

fn started(args: &ImportArgs) -> Result<jiff::ZonedDateTime, CommandError> {
    let zone = jiff::tz::TimeZone::system();
    if let Some(text) = &args.started {
        let at: jiff::civil::DateTime = text.parse().map_err(|_| {
            CommandError::Usage(format!("--started '{text}' is not a time like 2027-04-11T09:14"))
        })?;
        return at
            .to_zoned_datetime(zone)
            .map_err(|error| CommandError::Usage(format!("--started: {error}")));
    }
    let modified = std::fs::metadata(&args.file)
        .and_then(|about| about.modified())
        .map_err(|cause| CommandError::failed(format!("{}: {cause}", args.file.display())))?;
    let at = jiff::Timestamp::try_from(modified).map_err(CommandError::failed)?;
    Ok(at.to_zoned_datetime(zone))
}

fn write_files(
    folder: &Path,
    id: &str,
    description: &RunDescription,
    roles: &[ChannelRole],
    rows: &[Row],
) -> Result<(), CommandError> {
    let mut text = rows_header(roles);
    rows.iter().for_each(|row| push_row(row, roles, &mut text));
    let toml = description.to_toml().map_err(CommandError::failed)?;
    let files = [RowsFile { name: "plow.csv".into(), columns: roles.to_vec() }];
    let all: [(&str, &str); 4] = [
        ("plow.csv", &text),
        ("events.csv", EVENTS_HEADER),
        ("datapackage.json", &datapackage(id, &files, false)),
        ("run.toml", &toml),
    ];
    for (name, text) in all {
        let path: PathBuf = folder.join(name);
        write_whole(&path, text.as_bytes())
            .map_err(|cause| CommandError::failed(format!("{}: {cause}", path.display())))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mapping_names_column_source_and_unit() {
        let source = source_of("pull_n=Force x:kN").unwrap();
        assert_eq!(source, Source { role: Some(ChannelRole::Pull), name: "Force x".into(), factor: 1000.0 });
        let source = source_of("depth_mm=Depth:in").unwrap();
        assert!((source.factor - 25.4).abs() < 1e-12);
        assert_eq!(source_of("t_s=ms:ms").unwrap().factor, 1e-3);
        for wrong in ["pull_n", "pull=Force", "pull_n=Force:in", "t_s=T:weeks"] {
            assert!(matches!(source_of(wrong), Err(CommandError::Usage(_))), "{wrong}");
        }
    }
}
