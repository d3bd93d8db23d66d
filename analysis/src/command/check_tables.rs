//! What `check` says of each sensor box: its rows, its clock against the computer's, what was lost.

use ingest::assemble::RunCounters;
use ingest::recorder::without_readings;
use ingest::run_toml::{BoxInfo, ClockInfo, FittedTo, GnssInfo, RunTime};
use schemars::JsonSchema;
use serde::Serialize;
use signals::run::{Run, Table, usual_step};
use std::fmt::Write;

/// A table of readings, and the box that sent them.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct CheckedTable {
    /// Its file.
    file: String,
    /// Its rows.
    rows: usize,
    /// Run time of the first row, s; null without any.
    from_s: Option<f64>,
    /// Run time of the last row, s; null without any.
    to_s: Option<f64>,
    /// Rows per second; null of fewer than two rows.
    rate_hz: Option<f64>,
    /// Its columns but the time, unit in the name.
    columns: Vec<String>,
    /// The box that sent it; null where the run was imported.
    sensor_box: Option<CheckedBox>,
}

/// A sensor box.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct CheckedBox {
    /// Its name.
    name: String,
    /// Its serial number.
    serial: String,
    /// The port that it was on.
    port: String,
    /// Version of its firmware.
    firmware: String,
    /// Its clock; null where neither pings nor arrivals showed it, or the run was not ended properly.
    clock: Option<CheckedClock>,
    /// What was counted; null where the run was not ended properly.
    counters: Option<RunCounters>,
}

/// A box's clock against the computer's.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct CheckedClock {
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

pub(super) fn checked_tables(run: &Run) -> Vec<CheckedTable> {
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
        columns: table
            .channels
            .keys()
            .map(|role| role.column().to_owned())
            .chain(table.own.keys().cloned())
            .collect(),
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

pub(super) fn table_text(table: &CheckedTable) -> String {
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
    let mut told: Vec<String> =
        told.iter().filter(|(count, _)| *count > 0).map(|(count, what)| format!("{count} {what}")).collect();
    if counters.without_readings_ms > 0 {
        told.push(without_readings(counters.without_readings_ms));
    }
    let came = format!("{} frames in {} bytes", counters.frames, counters.bytes);
    if told.is_empty() { format!("{came}; nothing lost") } else { format!("{came}; {}", told.join(", ")) }
}

/// A GNSS receiver and its fixes.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct CheckedGnss {
    /// Its fixes.
    fixes: usize,
    /// Run time of the first, s; null without any.
    from_s: Option<f64>,
    /// Run time of the last, s; null without any.
    to_s: Option<f64>,
    /// What `run.toml` says of the receiver; null if it does not.
    receiver: Option<GnssInfo>,
}

pub(super) fn checked_gnss(run: &Run) -> Option<CheckedGnss> {
    let receiver = run.description.gnss.clone();
    if receiver.is_none() && run.gnss.is_none() {
        return None;
    }
    let times = run.gnss.as_ref().map_or(&[][..], |gnss| &gnss.t_s);
    let (from_s, to_s) = (times.first().copied(), times.last().copied());
    Some(CheckedGnss { fixes: times.len(), from_s, to_s, receiver })
}

pub(super) fn gnss_text(gnss: &CheckedGnss) -> String {
    let CheckedGnss { fixes, from_s, to_s, receiver } = gnss;
    let mut text = format!("gnss.csv: {fixes} fixes{}\n", span_text(*from_s, *to_s));
    let Some(receiver) = receiver else { return text };
    // Writing to a String cannot fail.
    let sentences = match &receiver.sentences[..] {
        [] => "nothing of use came from it".to_owned(),
        sentences => format!("sentences {}", sentences.join(", ")),
    };
    let _ = writeln!(text, "  receiver on {}, {sentences}", receiver.port);
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

    /// Found by reading: a box that sent nothing was said to have sent from 0.0 s to 0.0 s.
    #[test]
    fn nothing_that_came_has_no_times() {
        let empty = Table::default();
        let text = table_text(&checked_table(&empty, None));
        assert_eq!(text, "plow.csv: 0 rows of nothing used\n");
    }
}
