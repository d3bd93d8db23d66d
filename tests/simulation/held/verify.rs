//! Holds a run folder against what the virtual box knows. Every fault test ends with [`verify`].
//!
//! It demands that each row in the CSV is a row that the box sampled (after calibration, to the last digit
//! written), in the box's order, none twice; that times rise strictly and agree with the box's; and
//! that what is missing between two rows of one boot is what `events.csv` says is missing, gap by gap, and time without
//! readings, which no row number counts, what it says of that.
//! And it rebuilds the run from `plow.wire`, which must give the very same files.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use ingest::rebuild::rebuild;
use sample_runs::sensors::Sensor;

use crate::run_folder::{RunEvent, Table, Written, events_of, table_of};
use crate::truth::{Fate, Truth, read_truth};
use crate::{Doing, Failure, Outcome};

/// Kind of the events that say how many rows are missing.
const GAP: &str = "gap";
/// Kind of the events that say how long no reading came, besides the time of the rows that are counted.
const WITHOUT_READINGS: &str = "without-readings";
/// How far the time of a row may be from the box's, both counted from the first row of the boot, in s.
const TIME_ERROR_MAX_S: f64 = 0.002;

/// What was found.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Verified {
    pub rows_written: usize,
    /// Rows that `events.csv` counts as lost.
    pub rows_lost: usize,
    /// Rows that the box sampled.
    pub rows_sampled: usize,
    /// Rows that the box sent whole after the last one in the CSV: what a kill or a power cut took.
    pub sent_after_last: usize,
    /// Largest distance of a row's time from the box's, in s.
    pub time_error_s: f64,
}

/// Holds a run that was ended properly against the truth file of its box, and demands that its files are,
/// byte for byte, what `plow.wire` gives.
///
/// # Errors
/// With the first byte, row, gap or time that is not as it should be.
pub fn verify(run: &Path, truth_csv: &Path) -> Outcome<Verified> {
    verify_box(run, "plow", truth_csv)
}

/// The same for one of several boxes: the one whose rows are in the file of this name, without `.csv`.
pub fn verify_box(run: &Path, file: &str, truth_csv: &Path) -> Outcome<Verified> {
    hold_run(run, file, &read_truth(truth_csv)?, TIME_ERROR_MAX_S, same)
}

/// The same for a box whose clock goes by another time than the host's: run time may be bent against it, and how
/// far it is from the box's is for the caller to judge.
pub fn verify_bent(run: &Path, truth_csv: &Path) -> Outcome<Verified> {
    hold_run(run, "plow", &read_truth(truth_csv)?, f64::INFINITY, same)
}

/// The same for a run whose recorder was killed: its files are the beginning of what `plow.wire` gives,
/// and what that gives is held against the truth.
pub fn verify_torn(run: &Path, truth_csv: &Path) -> Outcome<Verified> {
    hold_run(run, "plow", &read_truth(truth_csv)?, TIME_ERROR_MAX_S, |on_disk, rebuilt| {
        rebuilt.starts_with(on_disk)
    })
}

/// The same for a text box, which sends rows from power-up on: those from before the run are not part of it,
/// whether they were sent whole or not.
pub fn verify_joined_late(run: &Path, truth_csv: &Path) -> Outcome<Verified> {
    hold_run(run, "plow", &joined_late(run, read_truth(truth_csv)?)?, TIME_ERROR_MAX_S, same)
}

/// The truth with the rows before the first written one as if they had not been sent.
fn joined_late(run: &Path, mut truth: Truth) -> Outcome<Truth> {
    let path = run.join("plow.csv");
    let text = fs::read_to_string(&path).doing(|| format!("read {}", path.display()))?;
    let places = table_of(&text).and_then(|table| places(&table, &truth));
    let places = places.map_err(|why| Failure(format!("{}: {why}", path.display())))?;
    let first = places.first().copied().unwrap_or(0);
    truth.rows.iter_mut().take(first).for_each(|row| row.fate = Fate::Lost);
    Ok(truth)
}

/// What is on the disk and what is rebuilt, byte for byte.
fn same(on_disk: &[u8], rebuilt: &[u8]) -> bool {
    on_disk == rebuilt
}

fn hold_run(
    run: &Path,
    file: &str,
    truth: &Truth,
    time_error_max_s: f64,
    agree: fn(&[u8], &[u8]) -> bool,
) -> Outcome<Verified> {
    let rebuilt = rebuild(run, None).doing(|| format!("rebuild {}", run.display()))?;
    let mut texts = BTreeMap::new();
    for file in rebuilt.files {
        let path = run.join(&file.name);
        let on_disk = fs::read(&path).doing(|| format!("read {}", path.display()))?;
        if !agree(&on_disk, &file.bytes) {
            let same = on_disk.iter().zip(&file.bytes).take_while(|(a, b)| a == b).count();
            return Err(Failure(format!(
                "{}: {} bytes, {} when rebuilt; they differ from byte {same} on",
                path.display(),
                on_disk.len(),
                file.bytes.len()
            )));
        }
        let text = String::from_utf8(file.bytes).doing(|| format!("read {} as text", path.display()))?;
        texts.insert(file.name, text);
    }
    let text = |name: &str| texts.get(name).map_or("", String::as_str);
    let rows_file = format!("{file}.csv");
    let held = table_of(text(&rows_file)).and_then(|table| {
        let mut events = events_of(text("events.csv"))?;
        events.retain(|event| is_of_box(event, file));
        hold(&table, &events, truth, time_error_max_s)
    });
    held.map_err(|why| Failure(format!("{}: {why}", run.join(rows_file).display())))
}

/// Whether an event is one of this box: with several boxes in a run, each says whose it is.
pub fn is_of_box(event: &RunEvent, file: &str) -> bool {
    event.detail.strip_prefix("box=").is_none_or(|rest| rest.split("; ").next() == Some(file))
}

/// A column of the table: which count it comes from, and the straight line of its sensor.
struct Column {
    count_at: usize,
    sensor: Sensor,
}

impl Column {
    fn holds(&self, written: &Written, counts: &[i32]) -> bool {
        let Some(count) = counts.get(self.count_at) else { return false };
        let reading = (f64::from(*count) - self.sensor.zero_count) / self.sensor.counts_per_unit;
        (written.value - reading).abs() <= written.half_digit * 1.001 + reading.abs() * 1e-12
    }
}

fn columns_of(table: &Table, truth: &Truth) -> Result<Vec<Column>, String> {
    let column = |name: &String| {
        let sensor = Sensor::every().find(|sensor| sensor.column == name)?;
        let channel = sensor.channel.replace('-', "_");
        let count_at = truth.channels.iter().position(|known| *known == channel)?;
        Some(Column { count_at, sensor })
    };
    let names = table.columns.get(1..).unwrap_or(&[]);
    let columns: Option<Vec<Column>> = names.iter().map(column).collect();
    let columns = columns.filter(|columns| columns.len() == truth.channels.len());
    columns.ok_or_else(|| format!("columns {names:?} are not those of the channels {:?}", truth.channels))
}

/// For each row of the table the place of its row in the truth: the next one that it equals.
fn places(table: &Table, truth: &Truth) -> Result<Vec<usize>, String> {
    let columns = columns_of(table, truth)?;
    let mut next = 0;
    let mut places = Vec::with_capacity(table.rows.len());
    for (number, row) in (2..).zip(&table.rows) {
        let readings = row.get(1..).unwrap_or(&[]);
        let equals =
            |counts: &[i32]| columns.iter().zip(readings).all(|(c, written)| c.holds(written, counts));
        let ahead = truth.rows.iter().skip(next).position(|true_row| equals(&true_row.counts));
        let place = next
            + ahead.ok_or_else(|| {
                let earlier = truth.rows.iter().take(next).any(|true_row| equals(&true_row.counts));
                let why = if earlier { "is there twice or out of order" } else { "was never sampled" };
                format!("line {number}: a row that {why}")
            })?;
        places.push(place);
        next = place + 1;
    }
    Ok(places)
}

/// Rows missing, as far as row numbers can tell.
#[derive(Debug, Default, PartialEq)]
struct Missing {
    /// Of the boot of the first row of the run, before it: a recorder that comes to a box already at work cannot count
    /// them.
    before_first: usize,
    /// At each later place where some are, in order.
    later: Vec<usize>,
}

/// What is missing where. After a reset the numbers start anew, so the new boot's first rows can be
/// counted when they are missing, but not the old boot's last ones; those must have been lost before
/// they went onto the line whole, and so must those before the first row of the run.
fn missing(places: &[usize], truth: &Truth) -> Result<Missing, String> {
    let boot = |place: usize| truth.rows.get(place).map(|row| row.boot);
    let first = places.first().copied().unwrap_or(0);
    let before = truth.rows.get(..first).unwrap_or(&[]);
    let before_first = before.iter().rev().take_while(|row| Some(row.boot) == boot(first)).count();
    let mut missing = Missing { before_first, later: Vec::new() };
    let before_first_row = 0..first;
    let mut uncounted = Vec::from([before_first_row]);
    for two in places.windows(2) {
        let [before, after] = *two else { continue };
        let rows = truth.rows.get(before + 1..after).unwrap_or(&[]);
        let old_boot = rows.iter().take_while(|row| Some(row.boot) != boot(after)).count();
        uncounted.push(before + 1..before + 1 + old_boot);
        if rows.len() > old_boot {
            missing.later.push(rows.len() - old_boot);
        }
    }
    for rows in uncounted {
        let sent = truth.rows.get(rows).unwrap_or(&[]).iter().find(|row| row.fate == Fate::Sent);
        if let Some(row) = sent {
            return Err(format!("row {} of boot {} was sent whole and is not there", row.number, row.boot));
        }
    }
    Ok(missing)
}

/// The rows that an event of kind [`GAP`] says are missing: `rows=N` in its detail.
fn rows_missing(event: &RunEvent) -> Result<usize, String> {
    let number = event.detail.split("; ").find_map(|pair| pair.strip_prefix("rows=")?.parse().ok());
    number.ok_or_else(|| format!("events.csv: a gap without a number of rows: {event:?}"))
}

/// Time between two written rows that is in no count: less than so much need not be told, ...
const UNTOLD_S: f64 = 1.0;
/// ... and less than so much must not be, ...
const NOTHING_S: f64 = 0.4;
/// ... and what is told may be so much off, ...
const OFF_S: f64 = 0.05;
/// ... and by so much of the time of the rows that are counted: a box may be slower than it says.
const OFF_OF_COUNTED: f64 = 0.25;

/// Holds the time without readings that was told between two written rows against what the box sampled between them. Of
/// the time before the first row and after the last only the recorder knows when a row was due.
fn without_readings(
    table: &Table,
    events: &[RunEvent],
    truth: &Truth,
    places: &[usize],
) -> Result<(), String> {
    let times: Vec<f64> = table.rows.iter().filter_map(|row| Some(row.first()?.value)).collect();
    let one_after_other = places.windows(2).zip(times.windows(2)).filter(|(two, _)| two[1] == two[0] + 1);
    let mut steps_s: Vec<f64> = one_after_other.map(|(_, at)| at[1] - at[0]).collect();
    steps_s.sort_by(f64::total_cmp);
    let Some(interval_s) = steps_s.get(steps_s.len() / 2).copied() else { return Ok(()) };
    for (two, at) in places.windows(2).zip(times.windows(2)) {
        let between = truth.rows.get(two[0] + 1..two[1]).unwrap_or(&[]);
        let boot = truth.rows.get(two[1]).map(|row| row.boot);
        // Rows of the boot before are in no count.
        let counted = between.iter().filter(|row| Some(row.boot) == boot).count();
        let counted_s = counted as f64 * interval_s;
        let without_s = at[1] - at[0] - interval_s - counted_s;
        let slack_s = 2.0 * interval_s + OFF_OF_COUNTED * counted_s;
        let said: Vec<f64> = events
            .iter()
            .filter(|event| event.kind == WITHOUT_READINGS && (event.t_s - at[0]).abs() < 1e-5)
            .filter_map(|event| event.detail.split_once("lasted_s=")?.1.parse().ok())
            .collect();
        let right = match said.as_slice() {
            [] => without_s < UNTOLD_S + slack_s,
            [said_s] => without_s > NOTHING_S && (said_s - without_s).abs() < OFF_S + slack_s,
            _ => false,
        };
        if !right {
            return Err(format!(
                "{without_s:.3} s without readings from {:.3} s on, and {counted} rows that are counted; told is {said:?}",
                at[0]
            ));
        }
    }
    Ok(())
}

/// Largest difference of time, both counted from the first row of each boot, in s.
fn time_error_s(table: &Table, places: &[usize], truth: &Truth) -> f64 {
    let mut first: Option<(u32, f64)> = None;
    let mut worst_s = 0.0f64;
    for (row, place) in table.rows.iter().zip(places) {
        let (Some(t_s), Some(true_row)) = (row.first(), truth.rows.get(*place)) else { continue };
        let lead_s = t_s.value - true_row.t_s;
        match first {
            Some((boot, first_lead_s)) if boot == true_row.boot => {
                worst_s = worst_s.max((lead_s - first_lead_s).abs());
            }
            _ => first = Some((true_row.boot, lead_s)),
        }
    }
    worst_s
}

/// Holds the rows of one box against what it sampled: each is one of them, in their order, with times that rise.
///
/// # Errors
/// With the first row that is not as it should be.
pub fn hold_rows(table: &Table, truth: &Truth) -> Result<(), String> {
    times_rise(table)?;
    places(table, truth).map(|_| ())
}

fn times_rise(table: &Table) -> Result<(), String> {
    let times: Vec<f64> = table.rows.iter().filter_map(|row| Some(row.first()?.value)).collect();
    match times.windows(2).position(|two| matches!(two, [a, b] if b <= a)) {
        Some(n) => Err(format!("line {}: time does not rise", n + 3)),
        None => Ok(()),
    }
}

/// Holds the rows of one box and its events against what it sampled; times, both counted from the first row of each
/// boot, may differ by `time_error_max_s`.
///
/// # Errors
/// With the first row, gap or time that is not as it should be.
pub fn hold(
    table: &Table,
    events: &[RunEvent],
    truth: &Truth,
    time_error_max_s: f64,
) -> Result<Verified, String> {
    times_rise(table)?;
    let places = places(table, truth)?;
    let missing = missing(&places, truth)?;
    let said: Vec<usize> =
        events.iter().filter(|event| event.kind == GAP).map(rows_missing).collect::<Result<_, _>>()?;
    let with_first = [&[missing.before_first], &missing.later[..]].concat();
    if said != missing.later && (missing.before_first == 0 || said != with_first) {
        return Err(format!("rows missing are {missing:?}, but events.csv says {said:?}"));
    }
    without_readings(table, events, truth, &places)?;
    let time_error_s = time_error_s(table, &places, truth);
    if time_error_s > time_error_max_s {
        return Err(format!("a row's time is {time_error_s} s from the box's"));
    }
    let after_last = places.last().map_or(0, |last| last + 1);
    let sent_after_last = truth.rows.iter().skip(after_last).filter(|row| row.fate == Fate::Sent).count();
    Ok(Verified {
        rows_written: table.rows.len(),
        rows_lost: said.iter().sum(),
        rows_sampled: truth.rows.len(),
        sent_after_last,
        time_error_s,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::truth::TrueRow;

    fn hold(table: &Table, events: &[RunEvent], truth: &Truth) -> Result<Verified, String> {
        super::hold(table, events, truth, TIME_ERROR_MAX_S)
    }

    /// Twenty rows a hundredth of a second apart in two boots; what boot 1 sampled last was lost.
    fn truth() -> Truth {
        let row = |n: u32| TrueRow {
            boot: 1 + n / 12,
            number: n % 12,
            fate: if n == 11 { Fate::Lost } else { Fate::Sent },
            t_s: 0.01 * f64::from(n),
            host_s: 0.01 * f64::from(n),
            counts: vec![
                12_840 + 400 * i32::try_from(n * n).unwrap(),
                2_150 + 40 * i32::try_from(n).unwrap(),
            ],
        };
        Truth { channels: vec!["pull".into(), "tail".into()], rows: (0..20).map(row).collect() }
    }

    fn written(value: f64) -> Written {
        Written { value, half_digit: 0.005 }
    }

    /// The rows with these numbers, as a recorder that does everything right writes them 5 s later.
    fn table(rows: impl IntoIterator<Item = u32>) -> Table {
        let row = |n: u32| {
            let n = f64::from(n);
            vec![written(5.0 + 0.01 * n), written(n * n), written(0.1 * n)]
        };
        let columns = ["t_s", "pull_n", "tail_mm"].map(String::from).to_vec();
        Table { columns, rows: rows.into_iter().map(row).collect() }
    }

    fn gap(detail: &str) -> RunEvent {
        RunEvent { t_s: 5.0, kind: "gap".into(), detail: detail.into() }
    }

    #[test]
    fn a_run_that_is_right_is_found_right() {
        let rows = (0..11).chain(12..18).filter(|n| ![3, 4, 7].contains(n));
        let events = [
            gap("rows=2; lasted_s=0.020000"),
            gap("rows=1; lasted_s=0.010000"),
            RunEvent { kind: "mark".into(), ..gap("") },
        ];
        let found = hold(&table(rows), &events, &truth()).unwrap();
        assert!(found.time_error_s < 1e-9);
        let expected =
            Verified { rows_written: 14, rows_lost: 3, rows_sampled: 20, sent_after_last: 2, ..found };
        assert_eq!(found, expected);
    }

    /// What a reset took from the old boot cannot be counted; what the new boot's first rows are can.
    #[test]
    fn a_reset_is_no_gap_but_the_rows_after_it_have_numbers() {
        let found = hold(&table((0..11).chain(14..20)), &[gap("rows=2")], &truth()).unwrap();
        assert_eq!((found.rows_written, found.rows_lost), (17, 2));
    }

    #[test]
    fn rows_before_the_first_may_be_counted_or_not() {
        let mut truth = truth();
        truth.rows[0].fate = Fate::Lost;
        let rows = || table((1..11).chain(12..20));
        assert_eq!(hold(&rows(), &[], &truth).unwrap().rows_lost, 0);
        assert_eq!(hold(&rows(), &[gap("rows=1")], &truth).unwrap().rows_lost, 1);
        assert!(hold(&rows(), &[gap("rows=2")], &truth).is_err());
    }

    /// Between the boots of the truth lies nothing; here 3 s lie between their rows in the file.
    #[test]
    fn time_without_readings_is_to_be_told_as_long_as_it_was() {
        let mut late = table((0..11).chain(12..20));
        late.rows[11..].iter_mut().for_each(|row| row[0].value += 3.0);
        let told = |t_s, lasted_s: &str| RunEvent {
            t_s,
            kind: WITHOUT_READINGS.into(),
            detail: format!("lasted_s={lasted_s}"),
        };
        assert!(hold(&late, &[told(5.1, "3.010")], &truth()).is_ok());
        for wrong in [&[][..], &[told(5.1, "2.5")], &[told(5.2, "3.010")], &[told(5.1, "3"), told(5.1, "3")]]
        {
            let why = hold(&late, wrong, &truth()).unwrap_err();
            assert!(why.contains("3.010 s without readings from 5.100 s on"), "{why}");
        }
        let all = table((0..11).chain(12..20));
        assert!(hold(&all, &[told(5.1, "3.010")], &truth()).unwrap_err().contains("without readings"));
    }

    #[test]
    fn what_is_wrong_is_found() {
        let all = || (0..11).chain(12..20);
        let refused = |table: Table, events: &[RunEvent], part: &str| {
            let why = hold(&table, events, &truth()).unwrap_err();
            assert!(why.contains(part), "{why}");
        };
        assert!(hold(&table(all()), &[], &truth()).is_ok());

        let refused_if = |change: fn(&mut Table), part: &str| {
            let mut table = table(all());
            change(&mut table);
            refused(table, &[], part);
        };
        refused_if(|t| t.rows[5][1] = written(25.02), "line 7: a row that was never sampled");
        refused_if(|t| t.columns.swap(1, 2), "never sampled");
        refused_if(|t| t.columns[2] = "pitch_deg".into(), "not those of the channels");
        let twice: fn(&mut Table) = |t| t.rows[6] = vec![written(5.06), t.rows[5][1], t.rows[5][2]];
        refused_if(twice, "line 8: a row that is there twice");
        refused_if(|t| t.rows[6][0] = t.rows[5][0], "line 8: time does not rise");
        refused_if(|t| t.rows[6][0].value += 0.003, "from the box's");

        let without_4 = || table(all().filter(|n| *n != 4));
        refused(without_4(), &[], "later: [1] }, but events.csv says []");
        refused(table(all()), &[gap("rows=1")], "later: [] }, but events.csv says [1]");
        refused(without_4(), &[gap("rows=2")], "later: [1] }, but events.csv says [2]");
        refused(without_4(), &[gap("rows=1"), gap("rows=1")], "later: [1] }, but events.csv says [1, 1]");
        refused(without_4(), &[gap("some rows")], "without a number");
        refused(table(1..11), &[], "row 0 of boot 1 was sent whole");
        refused(table((0..10).chain(12..20)), &[], "row 10 of boot 1 was sent whole");
        refused(table((0..11).chain(13..20)), &[], "later: [1] }, but events.csv says []");
    }
}
