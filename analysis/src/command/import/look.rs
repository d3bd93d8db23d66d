//! `import --look`: what a logger's file seems to have, and a command to start from. It writes nothing, and what it only
//! guesses it says.

use super::codes::{Code, Missing, one, typed};
use super::columns::Columns;
use super::doubt::{likely, unit_in_doubt, up_to, usual_step_us};
use super::guess::{Guess, TimeGuess, guess, unit_in};
use super::logger_file::{Imported, read_rows};
use crate::report::words::counted;
use ingest::plow::{ChannelRole, OwnColumn};
use ingest::quantity::{Unit, unit_for};
use std::collections::BTreeSet;
use std::fmt::Write;
use std::io::Cursor;
use std::path::Path;

/// First values of a column that are shown, and characters of each.
const VALUES_SHOWN: usize = 3;
const CHARS_SHOWN: usize = 24;

/// Words in a column's name by which it is taken for a reading; the first that fits counts.
const WORDS: &[(&str, ChannelRole)] = &[
    ("depth", ChannelRole::Depth),
    ("speed", ChannelRole::Speed),
    ("velocity", ChannelRole::Speed),
    ("pitch", ChannelRole::Pitch),
    ("spring", ChannelRole::Tail),
    ("deflection", ChannelRole::Tail),
    ("tail", ChannelRole::TailLoad),
    ("front", ChannelRole::FrontLoad),
    ("side", ChannelRole::Side),
    ("top link", ChannelRole::TopLink),
    ("lower link", ChannelRole::LowerLinks),
    ("pull", ChannelRole::Pull),
    ("draft", ChannelRole::Pull),
    ("draught", ChannelRole::Pull),
    ("force", ChannelRole::Pull),
];

/// What the file at `path` with this content, and what is to be said of its letters, seems to have.
///
/// # Errors
/// A sentence where it is no table.
pub fn look(
    path: &Path,
    (bytes, decoded): (&[u8], Option<&str>),
    plow: &str,
    setting: &str,
) -> Result<String, String> {
    let text = String::from_utf8_lossy(bytes);
    let seen = guess(text.strip_prefix('\u{feff}').unwrap_or(&text)).ok_or(
        "no table of numbers is seen: lines with the same number of cells, under one with their names",
    )?;
    let mut report = String::new();
    let separator = if seen.separator == '\t' { "tab".to_owned() } else { seen.separator.to_string() };
    let comma = if seen.decimal_comma { "comma" } else { "point" };
    let _ = writeln!(report, "{}: between columns '{separator}', decimal {comma}", path.display());
    report.extend(decoded.map(|decoded| format!("{decoded}\n")));
    let _ = writeln!(report, "line {}: the names of the columns", seen.skip_rows + 1);
    if seen.units.is_some() {
        let _ = writeln!(report, "line {}: their units", seen.skip_rows + 2);
    }
    let mut columns = Vec::new();
    let mut mapped: Vec<ChannelRole> = Vec::new();
    let mut missing: Vec<(String, Code<u64>)> = Vec::new();
    for (k, name) in seen.names.iter().enumerate() {
        let codes = if seen.is_of_time(k) { Vec::new() } else { seen.codes(k) };
        let _ = write!(report, "  {name}: {}", values_of(&seen, k, &codes));
        let role =
            if seen.is_of_time(k) { None } else { role_of(name).filter(|role| !mapped.contains(role)) };
        if let Some(role) = role {
            let (unit, from) = unit_of(&seen, k, role, &codes);
            let _ = write!(report, "; as {}, in {unit} ({from})", role.column());
            mapped.push(role);
            columns.push(format!("{}={name}:{unit}", role.column()));
        } else if !seen.is_of_time(k) && seen.numbers(k).next().is_some() {
            report.push_str(&own_offer(&seen, k, name));
        }
        report.push('\n');
        for code in codes {
            let _ = writeln!(report, "    {}: a code for a missing reading?", one(&code));
            missing.extend(role.map(|_| (name.clone(), code)));
        }
    }
    let mut words = vec!["--plow".to_owned(), plow.to_owned(), "--setting".to_owned(), setting.to_owned()];
    if seen.separator != ',' {
        words.extend(["--separator".to_owned(), separator]);
    }
    if seen.decimal_comma {
        words.push("--decimal-comma".to_owned());
    }
    if seen.skip_rows > 0 {
        words.extend(["--skip-rows".to_owned(), seen.skip_rows.to_string()]);
    }
    if seen.units.is_some() {
        words.push("--units-row".to_owned());
    }
    let mut rate = None;
    let mut format = None;
    match &seen.time {
        Some(TimeGuess::Stamp { name, format: of, others }) => {
            let _ = writeln!(report, "time: {name}, {}{}", of.words().0, also(others));
            format = Some(of.words().0);
            columns.insert(0, format!("t_s={name}"));
        }
        Some(TimeGuess::Number { name, unit, said }) => {
            let from = if *said { "as the file says" } else { "a guess by its steps: check it" };
            let _ = writeln!(report, "time: {name}, in {unit} ({from})");
            columns.insert(0, format!("t_s={name}:{unit}"));
        }
        None => {
            report.push_str("time: no column of it is seen; put your logger's rows a second behind --rate\n");
            rate = Some(1.0);
        }
    }
    words.extend(columns.iter().flat_map(|column| ["--column".to_owned(), column.clone()]));
    if let Some(format) = format {
        words.extend(["--time-format".to_owned(), format.to_owned()]);
    }
    if rate.is_some() {
        words.extend(["--rate".to_owned(), "HZ".to_owned()]);
    }
    let codes: BTreeSet<String> = missing.iter().map(|(_, code)| typed(code.value)).collect();
    words.extend(codes.iter().map(|code| format!("--missing-value={code}")));
    // Read as the command would.
    let read = Columns::of(&columns, rate, seen.separator, seen.decimal_comma).and_then(|columns| {
        let missing = Missing::of(&codes.into_iter().collect::<Vec<_>>(), false);
        let columns =
            Columns { skip_rows: seen.skip_rows, units_row: seen.units.is_some(), missing, ..columns };
        let columns = format.iter().try_fold(columns, |columns, format| columns.with_time_format(format))?;
        let imported = read_rows(Cursor::new(bytes), &columns).map_err(|fault| fault.to_string())?;
        Ok((columns, imported))
    });
    match read {
        Ok((columns, imported)) => {
            report.push_str(&rows_line(&imported, rate.is_some()));
            report.extend(unit_in_doubt(&columns, &imported).map(|why| format!("{why}\n")));
        }
        Err(why) => drop(writeln!(report, "read so, it is refused: {why}")),
    }
    if mapped.is_empty() {
        report.push_str(
            "no name of a column says what it measures: add --column RUN_COLUMN=NAME:UNIT for each\n",
        );
    }
    let _ = writeln!(report, "To start from, once every guess above is checked:");
    let words = words.iter().map(|word| quoted(word)).collect::<Vec<_>>().join(" ");
    let _ = writeln!(report, "hitchwright import {} {words}", quoted(&path.display().to_string()));
    Ok(report)
}

fn also(others: &[&str]) -> String {
    if others.is_empty() {
        String::new()
    } else {
        format!(" (it could be {} as well: check the date)", others.join(" or "))
    }
}

/// How a column that is none of a run's is taken along: in the words of `--column`.
fn own_offer(seen: &Guess, column: usize, name: &str) -> String {
    let short = name.split(['[', '(']).next().unwrap_or(name).trim();
    let Ok(own) = OwnColumn::new(short, "1") else { return String::new() };
    let said = seen.unit_said(column);
    let known = said.filter(|(unit, _)| OwnColumn::new(short, unit).is_ok());
    let from = known.map_or("its unit is not said".to_owned(), |(unit, from)| format!("in {unit} ({from})"));
    let word = format!("{}={name}:{}", own.column(), known.map_or("UNIT", |(unit, _)| unit));
    format!("; {from}; as a column of your own: --column {}", quoted(&word))
}

/// First values of a column, and the range of its numbers but for those codes.
fn values_of(seen: &Guess, column: usize, codes: &[Code<u64>]) -> String {
    let first: Vec<String> = seen
        .rows
        .iter()
        .filter_map(|row| row.get(column))
        .take(VALUES_SHOWN)
        .map(|cell| cell.chars().take(CHARS_SHOWN).collect())
        .collect();
    let range = readings(seen, column, codes).fold(None, |range, x| {
        let (low, high) = range.unwrap_or((x, x));
        Some((x.min(low), x.max(high)))
    });
    let range = range.map_or(String::new(), |(low, high): (f64, f64)| format!("; {low} to {high}"));
    format!("{} …{range}", first.join(", "))
}

/// The numbers of a column but for those codes.
fn readings(seen: &Guess, column: usize, codes: &[Code<u64>]) -> impl Iterator<Item = f64> {
    let is_code = |number: &f64| codes.iter().any(|code| code.value == *number);
    seen.numbers(column).map(|(_, number)| number).filter(move |number| !is_code(number))
}

fn role_of(name: &str) -> Option<ChannelRole> {
    let lower = name.to_lowercase().replace('_', " ");
    ChannelRole::of_column(name)
        .or_else(|| WORDS.iter().find(|(word, _)| lower.contains(word)).map(|(_, role)| *role))
}

/// The unit of a reading, and how it is known.
fn unit_of(seen: &Guess, column: usize, role: ChannelRole, codes: &[Code<u64>]) -> (String, &'static str) {
    let own = role.column_unit();
    let fits = |symbol: &str| unit_for(own.dimension, symbol).ok().map(|unit: &Unit| unit.symbol.to_owned());
    let name = seen.names.get(column).map_or("", String::as_str);
    if ChannelRole::of_column(name).is_some() {
        return (own.symbol.to_owned(), "by its name");
    }
    let line = seen.units.as_ref().and_then(|units| units.get(column)).and_then(|unit| fits(unit));
    if let Some(unit) = line {
        return (unit, "by the line of units");
    }
    if let Some(unit) = unit_in(name).and_then(fits) {
        return (unit, "by its name");
    }
    let up_to = up_to(readings(seen, column, codes));
    (likely(role, up_to).unwrap_or(own.symbol).to_owned(), "a guess by its size: check it")
}

/// Rows, how often they come, and where they lack.
fn rows_line(imported: &Imported, rate_unknown: bool) -> String {
    let rows = &imported.rows;
    let notes: String = imported.taken.iter().map(|said| format!("{said}\n")).collect();
    let Some(usual_us) = usual_step_us(rows).filter(|_| !rate_unknown) else {
        return format!("{notes}{}\n", counted(rows.len(), "row", "rows"));
    };
    let steps = || rows.iter().zip(rows.iter().skip(1)).map(|(one, next)| next.t_us - one.t_us);
    let gaps = steps().filter(|step| *step > 2 * usual_us).count();
    let longest_us = steps().max().unwrap_or(0);
    let lasts_s = rows.last().map_or(0.0, |row| row.t_us as f64 / 1e6);
    let gaps = match gaps {
        0 => "no gaps".to_owned(),
        count => format!("{}, the longest {} s", counted(count, "gap", "gaps"), longest_us as f64 / 1e6),
    };
    let hz = (1e6 / usual_us.max(1) as f64 * 100.0).round() / 100.0;
    format!("{notes}{} in {lasts_s} s, {hz} a second; {gaps}\n", counted(rows.len(), "row", "rows"))
}

/// A word as a shell takes it.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_alphanumeric() || "/._-=:,+".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}
