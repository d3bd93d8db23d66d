//! `check`: is a run whole, and what did the recorder note? Of each sensor box its rows, its clock against the computer's,
//! and what was lost. With `--repair`, a run that is not whole is made so first.

use super::args::CheckArgs;
use super::output::{self, CommandError, Done, make_folder};
use crate::report::words::notices::notice;
use ingest::assemble::{EventKind, RunCounters};
use ingest::open_run::open_run;
use ingest::plow::read_plow;
use ingest::rebuild::{RebuildError, rebuild};
use ingest::repair::Repair;
use ingest::run_folder::{fill_new_folder, write_whole};
use ingest::run_toml::{BoxInfo, ClockInfo, FittedTo, GnssInfo, RunState, RunTime};
use serde::Serialize;
use signals::run::{CsvError, Run, RunError, Table, usual_step};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;

/// What `check` found.
#[derive(Debug, Serialize)]
struct Checked {
    run: String,
    state: RunState,
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
    notices: Vec<String>,
}

pub(super) fn check(args: &CheckArgs) -> Result<Done, CommandError> {
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
    let mut notices: Vec<String> = run.notices.iter().map(|one| notice(one, plow)).collect();
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
        description.plow.sensors = plow.sensors;
    }
    fill_new_folder(folder, || {
        for file in &rebuilt.files {
            output::write(&folder.join(&file.name), &file.bytes)?;
        }
        output::write(&folder.join("run.toml"), description.to_toml()?.as_bytes())?;
        for name in description.wire_files().into_iter().chain(["datapackage.json".to_owned()]) {
            let (from, to) = (args.run.join(&name), folder.join(&name));
            std::fs::copy(&from, &to).map_err(|cause| CommandError::at(&to, cause))?;
        }
        Ok::<_, CommandError>(())
    })?;
    let mut remarks = rebuilt.notices;
    remarks.push(format!("rebuilt into {}", folder.display()));
    Ok(Done::say(remarks))
}

/// A table of readings, and the box that sent them.
#[derive(Debug, Serialize)]
struct CheckedTable {
    file: String,
    rows: usize,
    /// Run time of the first row, s; null without any.
    from_s: Option<f64>,
    /// Run time of the last row, s; null without any.
    to_s: Option<f64>,
    /// Rows per second; null of fewer than two rows.
    rate_hz: Option<f64>,
    columns: Vec<&'static str>,
    /// Null where the run was imported.
    sensor_box: Option<CheckedBox>,
}

#[derive(Debug, Serialize)]
struct CheckedBox {
    name: String,
    serial: String,
    port: String,
    firmware: String,
    /// Null where neither pings nor arrivals showed it, or the run was not ended properly.
    clock: Option<CheckedClock>,
    /// Null where the run was not ended properly.
    counters: Option<RunCounters>,
}

/// A box's clock against the computer's.
#[derive(Debug, Serialize)]
struct CheckedClock {
    /// What run time follows.
    run_time: RunTime,
    /// Offset: what the box's clock, which wraps, stood at when the run began, s. Null in older runs.
    box_at_start_s: Option<f64>,
    /// How much the box's clock is fast, ppm.
    drift_ppm: f64,
    /// Weighted SD of what the fit rests on about it, ms.
    residual_ms: f64,
    /// Round trips of pings, or how rows arrive.
    fitted_to: FittedTo,
}

fn checked_tables(run: &Run) -> Vec<CheckedTable> {
    let boxes = run.description.boxes.iter().map(Some).chain(std::iter::repeat(None));
    run.tables.iter().zip(boxes).map(|(table, info)| checked_table(table, info)).collect()
}

fn checked_table(table: &Table, info: Option<&BoxInfo>) -> CheckedTable {
    CheckedTable {
        file: format!("{}.csv", info.map_or("plow", |info| info.file.as_str())),
        rows: table.t_s.len(),
        from_s: table.t_s.first().copied(),
        to_s: table.t_s.last().copied(),
        rate_hz: usual_step(&table.t_s).map(f64::recip),
        columns: table.channels.keys().map(|role| role.column()).collect(),
        sensor_box: info.map(|info| CheckedBox {
            name: info.name.clone(),
            serial: info.serial.clone(),
            port: info.port.clone(),
            firmware: info.firmware.clone(),
            clock: info.clock.as_ref().map(checked_clock),
            counters: info.counters,
        }),
    }
}

fn checked_clock(clock: &ClockInfo) -> CheckedClock {
    // To 0.1 ppm, as the ratio is kept.
    let drift_ppm = ((clock.box_s_per_host_s - 1.0) * 1e7).round() / 10.0;
    let ClockInfo { run_time, box_at_start_s, residual_ms, fitted_to, .. } = *clock;
    CheckedClock { run_time, box_at_start_s, drift_ppm, residual_ms, fitted_to }
}

fn table_text(table: &CheckedTable) -> String {
    let mut text = String::new();
    // Writing to a String cannot fail.
    let rate = table.rate_hz.map(|hz| format!(" at {hz:.2} Hz")).unwrap_or_default();
    let columns = if table.columns.is_empty() { "nothing used".to_owned() } else { table.columns.join(", ") };
    let CheckedTable { file, rows, from_s, to_s, .. } = table;
    let _ = writeln!(text, "{file}: {rows} rows of {columns}{rate}{}", span_text(*from_s, *to_s));
    if let Some(sensor_box) = &table.sensor_box {
        let CheckedBox { name, serial, port, firmware, .. } = sensor_box;
        let _ = writeln!(text, "  box {name}, serial no. {serial}, firmware {firmware}, on {port}");
        let _ = writeln!(text, "  {}", clock_text(sensor_box.clock.as_ref()));
        if let Some(counters) = &sensor_box.counters {
            let _ = writeln!(text, "  {}", counters_text(counters));
        }
    }
    text
}

/// `, 0.0 s to 95.3 s`; nothing where nothing came.
fn span_text(from_s: Option<f64>, to_s: Option<f64>) -> String {
    from_s.zip(to_s).map(|(from_s, to_s)| format!(", {from_s:.1} s to {to_s:.1} s")).unwrap_or_default()
}

fn clock_text(clock: Option<&CheckedClock>) -> String {
    let Some(CheckedClock { run_time, box_at_start_s, drift_ppm, residual_ms, fitted_to }) = clock else {
        return "clock: no fit to the computer's (the run was too short, or was not ended properly)"
            .to_owned();
    };
    let way = if *drift_ppm < 0.0 { "slow" } else { "fast" };
    let offset =
        box_at_start_s.map(|s| format!("stood at {s:.3} s when the run began, ")).unwrap_or_default();
    match run_time {
        RunTime::Host if *fitted_to == FittedTo::Arrivals => format!(
            "clock: {offset}{:.1} ppm {way} against the computer's by how rows arrive, which scatters by \
             {residual_ms:.1} ms (it answers no ping): all its times are late by what its line takes at least",
            drift_ppm.abs()
        ),
        RunTime::Host => format!(
            "clock: {offset}{:.1} ppm {way} against the computer's, residual of the fit {residual_ms:.2} ms; run time \
             follows the computer's clock",
            drift_ppm.abs()
        ),
        RunTime::BoxAlone => format!(
            "clock: runs apart from the computer's ({:.4} s in each of its seconds); run time follows the box \
             alone, so it is not to be joined with others",
            1.0 + drift_ppm * 1e-6
        ),
    }
}

/// What came, and everything that is not 0 of what should be.
fn counters_text(counters: &RunCounters) -> String {
    let told = [
        (counters.rows_lost, "rows lost"),
        (counters.gaps, "gaps"),
        (counters.rows_dropped_in_box, "rows dropped in the box"),
        (counters.rows_duplicate, "rows that came twice"),
        (counters.rows_refused, "rows refused"),
        (counters.rows_saturated, "rows with a saturated reading"),
        (counters.resets, "resets"),
        (counters.reconnects, "reconnects"),
        (counters.frames_damaged, "damaged frames"),
        (counters.frames_unknown, "frames of unknown kind"),
        (counters.frames_refused, "frames refused"),
        (counters.bytes_not_kept, "bytes not kept"),
    ];
    let told: Vec<String> =
        told.iter().filter(|(count, _)| *count > 0).map(|(count, what)| format!("{count} {what}")).collect();
    let came = format!("{} frames in {} bytes", counters.frames, counters.bytes);
    if told.is_empty() { format!("{came}; nothing lost") } else { format!("{came}; {}", told.join(", ")) }
}

/// A GNSS receiver and its fixes.
#[derive(Debug, Serialize)]
struct CheckedGnss {
    fixes: usize,
    from_s: Option<f64>,
    to_s: Option<f64>,
    /// What `run.toml` says of the receiver; null if it does not.
    receiver: Option<GnssInfo>,
}

fn checked_gnss(run: &Run) -> Option<CheckedGnss> {
    let receiver = run.description.gnss.clone();
    if receiver.is_none() && run.gnss.is_none() {
        return None;
    }
    let times = run.gnss.as_ref().map_or(&[][..], |gnss| &gnss.t_s);
    let (from_s, to_s) = (times.first().copied(), times.last().copied());
    Some(CheckedGnss { fixes: times.len(), from_s, to_s, receiver })
}

fn gnss_text(gnss: &CheckedGnss) -> String {
    let CheckedGnss { fixes, from_s, to_s, receiver } = gnss;
    let mut text = format!("gnss.csv: {fixes} fixes{}\n", span_text(*from_s, *to_s));
    let Some(receiver) = receiver else { return text };
    // Writing to a String cannot fail.
    let sentences = receiver.sentences.join(", ");
    let _ = writeln!(text, "  receiver on {}, sentences {sentences}", receiver.port);
    if let Some(residual_ms) = receiver.residual_ms {
        let _ = writeln!(
            text,
            "  jitter taken out of its times {residual_ms:.1} ms RMS; its latency is not seen"
        );
    }
    if let Some(counters) = &receiver.counters {
        let _ = writeln!(
            text,
            "  {} sentences, {} bad checksums, {} epochs without fix (periods: {}), {} reconnects",
            counters.sentences,
            counters.bad_checksums,
            counters.without_fix,
            counters.no_fix_periods,
            counters.reconnects
        );
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    /// Found by reading: a box that sent nothing was said to have sent from 0.0 s to 0.0 s.
    #[test]
    fn nothing_that_came_has_no_times() {
        let empty = Table { t_s: Vec::new(), channels: BTreeMap::new() };
        let text = table_text(&checked_table(&empty, None));
        assert_eq!(text, "plow.csv: 0 rows of nothing used\n");
    }
}
