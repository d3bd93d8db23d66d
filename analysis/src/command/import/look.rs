//! `import --look`: what a logger's file seems to have, and a command to start from. It writes nothing, and what it only
//! guesses it says.

use super::columns::Columns;
use super::doubt::likely;
use super::guess::{Guess, TimeGuess, guess, unit_in};
use super::logger_file::{Imported, read_rows};
use ingest::description_file::{UTF16_SENTENCE, is_utf16};
use ingest::plow::ChannelRole;
use ingest::quantity::{Unit, unit_for};
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

/// What the file at `path` with this content seems to have.
///
/// # Errors
/// A sentence where it is no table.
pub fn look(path: &Path, bytes: &[u8], plow: &str, setting: &str) -> Result<String, String> {
    if is_utf16(bytes) {
        return Err(UTF16_SENTENCE.to_owned());
    }
    let text = String::from_utf8_lossy(bytes);
    let seen = guess(text.strip_prefix('\u{feff}').unwrap_or(&text)).ok_or(
        "no table of numbers is seen: lines with the same number of cells, under one with their names",
    )?;
    let mut report = String::new();
    let separator = if seen.separator == '\t' { "tab".to_owned() } else { seen.separator.to_string() };
    let comma = if seen.decimal_comma { "comma" } else { "point" };
    let _ = writeln!(report, "{}: between columns '{separator}', decimal {comma}", path.display());
    let _ = writeln!(report, "line {}: the names of the columns", seen.skip_rows + 1);
    if seen.units.is_some() {
        let _ = writeln!(report, "line {}: their units", seen.skip_rows + 2);
    }
    let mut columns = Vec::new();
    let mut mapped: Vec<ChannelRole> = Vec::new();
    for (k, name) in seen.names.iter().enumerate() {
        let _ = write!(report, "  {name}: {}", values_of(&seen, k));
        let role =
            if seen.is_of_time(k) { None } else { role_of(name).filter(|role| !mapped.contains(role)) };
        if let Some(role) = role {
            let (unit, from) = unit_of(&seen, k, role);
            let _ = write!(report, "; as {}, in {unit} ({from})", role.column());
            mapped.push(role);
            columns.push(format!("{}={name}:{unit}", role.column()));
        }
        report.push('\n');
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
    // Read as the command would.
    let read = Columns::of(&columns, rate, seen.separator, seen.decimal_comma).and_then(|columns| {
        let columns = Columns { skip_rows: seen.skip_rows, units_row: seen.units.is_some(), ..columns };
        let columns = format.iter().try_fold(columns, |columns, format| columns.with_time_format(format))?;
        read_rows(Cursor::new(bytes), &columns).map_err(|fault| fault.to_string())
    });
    match read {
        Ok(imported) => report.push_str(&rows_line(&imported, rate.is_some())),
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

/// First values of a column, and the range of its numbers.
fn values_of(seen: &Guess, column: usize) -> String {
    let cells = || seen.rows.iter().filter_map(|row| row.get(column));
    let first: Vec<String> =
        cells().take(VALUES_SHOWN).map(|cell| cell.chars().take(CHARS_SHOWN).collect()).collect();
    let numbers = cells().filter_map(|cell| seen.number(cell));
    let range = numbers.fold(None, |range, x| {
        let (low, high) = range.unwrap_or((x, x));
        Some((x.min(low), x.max(high)))
    });
    let range = range.map_or(String::new(), |(low, high): (f64, f64)| format!("; {low} to {high}"));
    format!("{} …{range}", first.join(", "))
}

fn role_of(name: &str) -> Option<ChannelRole> {
    let lower = name.to_lowercase().replace('_', " ");
    ChannelRole::of_column(name)
        .or_else(|| WORDS.iter().find(|(word, _)| lower.contains(word)).map(|(_, role)| *role))
}

/// The unit of a reading, and how it is known.
fn unit_of(seen: &Guess, column: usize, role: ChannelRole) -> (String, &'static str) {
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
    let numbers = seen.rows.iter().filter_map(|row| row.get(column)).filter_map(|cell| seen.number(cell));
    let largest = numbers.fold(0.0, |most: f64, x| most.max(x.abs()));
    (likely(role, largest).unwrap_or(own.symbol).to_owned(), "a guess by its size: check it")
}

/// Rows, how often they come, and where they lack.
fn rows_line(imported: &Imported, rate_unknown: bool) -> String {
    let rows = &imported.rows;
    let notes: String = imported.taken.iter().map(|said| format!("{said}\n")).collect();
    let mut steps: Vec<u64> =
        rows.iter().zip(rows.iter().skip(1)).map(|(one, next)| next.t_us - one.t_us).collect();
    if rate_unknown || steps.is_empty() {
        return format!("{notes}{} rows\n", rows.len());
    }
    let middle = steps.len() / 2;
    let usual_us = *steps.select_nth_unstable(middle).1;
    let gaps = steps.iter().filter(|step| **step > 2 * usual_us).count();
    let longest_us = steps.iter().max().copied().unwrap_or(0);
    let lasts_s = rows.last().map_or(0.0, |row| row.t_us as f64 / 1e6);
    let gaps = match gaps {
        0 => "no gaps".to_owned(),
        count => format!("{count} gaps, the longest {} s", longest_us as f64 / 1e6),
    };
    let hz = (1e6 / usual_us.max(1) as f64 * 100.0).round() / 100.0;
    format!("{notes}{} rows in {lasts_s} s, {hz} a second; {gaps}\n", rows.len())
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
