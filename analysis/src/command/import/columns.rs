//! Which columns of a logger's file fill which columns of a run, as it was typed. Each error is one sentence.

use super::codes::Missing;
use super::stamp::TimeFormat;
use ingest::plow::{ChannelRole, OWN_PREFIX, OwnColumn};
use ingest::quantity::{Unit, unit_for};
use std::collections::BTreeSet;

/// How a logger's file is to be read.
#[derive(Clone, Debug, PartialEq)]
pub struct Columns {
    /// Where the time comes from; without it the file has a row each so often.
    pub time: Time,
    /// Where the readings come from, in the order of a run's columns.
    pub readings: Vec<(ChannelRole, Source)>,
    /// Where the user's own columns come from, in the order typed.
    pub own: Vec<OwnSource>,
    /// The sign between columns.
    pub separator: u8,
    /// Numbers are written with a decimal comma.
    pub decimal_comma: bool,
    /// So many lines stand before the one with the names of the columns.
    pub skip_rows: u64,
    /// The line after the names has the units.
    pub units_row: bool,
    /// How the time column is written, if it is no number.
    pub time_format: Option<TimeFormat>,
    /// What stands for a missing reading, besides an empty cell and NaN.
    pub missing: Missing,
}

/// Where the time of a row comes from.
#[derive(Clone, Debug, PartialEq)]
pub enum Time {
    /// From a column.
    Column(Source),
    /// So many rows come a second.
    Rate(f64),
}

/// A column of the file.
#[derive(Clone, Debug, PartialEq)]
pub struct Source {
    /// Its name.
    pub name: String,
    /// The unit of the run's column.
    pub own: Unit,
    /// The unit of the file's, if it was typed.
    pub unit: Option<Unit>,
}

/// A column of the file that fills one of the user's own.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnSource {
    /// The column of the run: `own_engine_speed`.
    pub column: String,
    /// Its name in the file.
    pub name: String,
    /// The unit that was typed. Nothing is converted.
    pub unit: Option<String>,
}

impl Columns {
    /// By columns as `pull_n=Force:kN`, and rows a second for a file without a time column.
    pub fn of(
        columns: &[String],
        rate: Option<f64>,
        separator: char,
        decimal_comma: bool,
    ) -> Result<Self, String> {
        let (own, known): (Vec<&String>, Vec<&String>) =
            columns.iter().partition(|text| text.starts_with(OWN_PREFIX));
        let own = own.into_iter().map(|text| own_source_of(text)).collect::<Result<Vec<_>, _>>()?;
        let sources = known.into_iter().map(|text| source_of(text)).collect::<Result<Vec<_>, _>>()?;
        if sources.iter().map(|(role, _)| *role).collect::<BTreeSet<_>>().len() < sources.len()
            || own.iter().map(|source| &source.column).collect::<BTreeSet<_>>().len() < own.len()
        {
            return Err("--column: a column of the run is filled twice".to_owned());
        }
        let of_time = sources.iter().find(|(role, _)| role.is_none()).map(|(_, source)| source.clone());
        let time = match (of_time, rate) {
            (Some(_), Some(_)) => Err("the time comes from --column t_s=… or from --rate, not from both"),
            (None, None) => Err("a time is needed: --column t_s=NAME:s, or --rate HZ for a file without one"),
            (None, Some(rate)) if !(rate.is_finite() && rate > 0.0) => Err("--rate must be above 0"),
            (None, Some(rate)) => Ok(Time::Rate(rate)),
            (Some(source), None) => Ok(Time::Column(source)),
        }?;
        if decimal_comma && separator == ',' {
            return Err("--decimal-comma needs another --separator, such as --separator ';'".to_owned());
        }
        let separator = u8::try_from(separator).ok().filter(u8::is_ascii);
        let separator = separator.ok_or("--separator must be an ASCII character")?;
        let of_reading = |(role, source): (Option<ChannelRole>, Source)| role.map(|role| (role, source));
        let mut readings: Vec<_> = sources.into_iter().filter_map(of_reading).collect();
        readings.sort_by_key(|(role, _)| *role);
        let (skip_rows, units_row, time_format, missing) = (0, false, None, Missing::default());
        Ok(Self { time, readings, own, separator, decimal_comma, skip_rows, units_row, time_format, missing })
    }

    /// With a time column that is written in this format.
    pub fn with_time_format(self, format: &str) -> Result<Self, String> {
        let wrong = |why: &str| Err(format!("--time-format '{format}': {why}"));
        match &self.time {
            Time::Rate(_) => return wrong("the time comes from --rate; map a column as t_s=NAME instead"),
            Time::Column(Source { unit: Some(_), .. }) => {
                return wrong("a time that is written so has no unit; write --column t_s=NAME");
            }
            Time::Column(_) => {}
        }
        let time_format = TimeFormat::of(format).map_err(|why| format!("--time-format '{format}': {why}"))?;
        Ok(Self { time_format: Some(time_format), ..self })
    }

    /// The names in the file of all that is read but the time, in the order of a row.
    pub fn names(&self) -> impl Iterator<Item = String> {
        let readings = self.readings.iter().map(|(_, source)| &source.name);
        readings.chain(self.own.iter().map(|source| &source.name)).cloned()
    }

    /// The columns of the run that is made, but for the user's own.
    pub fn roles(&self) -> Vec<ChannelRole> {
        self.readings.iter().map(|(role, _)| *role).collect()
    }
}

/// `pull_n=Force:kN`: the column of the run, the name in the file, and its unit.
fn parts_of(text: &str) -> Result<(&str, &str, Option<&str>), String> {
    let (column, rest) = text
        .split_once('=')
        .ok_or_else(|| format!("--column '{text}': write RUN_COLUMN=NAME, such as pull_n=Force:kN"))?;
    let (name, unit) = rest.rsplit_once(':').map_or((rest, None), |(name, unit)| (name, Some(unit)));
    Ok((column, name, unit))
}

/// `own_engine_speed=RPM:1/min`.
fn own_source_of(text: &str) -> Result<OwnSource, String> {
    let (column, name, unit) = parts_of(text)?;
    own_column(column, unit.unwrap_or("1")).map_err(|why| format!("--column '{text}': {why}"))?;
    Ok(OwnSource {
        column: column.to_owned(),
        name: name.to_owned(),
        unit: unit.map(|unit| unit.trim().to_owned()),
    })
}

/// A column by its own name, which only it has.
pub fn own_column(column: &str, unit: &str) -> Result<OwnColumn, String> {
    let name = column.strip_prefix(OWN_PREFIX).unwrap_or(column).replace('_', " ");
    let named = OwnColumn::new(&name, unit)?;
    if named.column() != column {
        return Err(format!(
            "'{column}' is no name of a column of your own: write small letters, digits and single underscores, such as \
             {}",
            named.column()
        ));
    }
    Ok(named)
}

/// `pull_n=Force:kN`; `None` is the time.
fn source_of(text: &str) -> Result<(Option<ChannelRole>, Source), String> {
    let wrong = |why: String| format!("--column '{text}': {why}");
    let (column, name, unit) = parts_of(text)?;
    let role = match column {
        "t_s" => None,
        _ => Some(ChannelRole::of_column(column).ok_or_else(|| {
            let known: Vec<_> = ChannelRole::ALL.iter().map(|role| role.column()).collect();
            let meant = meant(column, known.iter().copied());
            wrong(format!(
                "'{column}' is not a column of a run{meant} (columns: t_s, {}; {OWN_PREFIX}NAME, with any NAME, is one of \
                 your own)",
                known.join(", ")
            ))
        })?),
    };
    let own = role.map_or(Unit::SECOND, ChannelRole::column_unit);
    let named = |symbol: &str| {
        let unit = unit_for(own.dimension, symbol).copied();
        unit.map_err(|error| wrong(format!("'{symbol}' {error}")))
    };
    let unit = unit.map(named).transpose()?;
    Ok((role, Source { name: name.to_owned(), own, unit }))
}

/// `; did you mean 'Force'?`, where a name is like the one that was typed.
pub fn meant<'a>(typed: &str, names: impl Iterator<Item = &'a str>) -> String {
    let typed = typed.to_lowercase();
    let likeness = |name: &&str| strsim::jaro_winkler(&typed, &name.to_lowercase());
    let best = names.map(|name| (likeness(&name), name)).max_by(|a, b| a.0.total_cmp(&b.0));
    best.filter(|(likeness, _)| *likeness > 0.7)
        .map(|(_, name)| format!("; did you mean '{name}'?"))
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mapping_names_column_source_and_unit() {
        let force = Source { name: "Force x".into(), own: Unit::NEWTON, unit: Some(Unit::KILONEWTON) };
        assert_eq!(source_of("pull_n=Force x:kN"), Ok((Some(ChannelRole::Pull), force)));
        assert_eq!(source_of("t_s=ms:ms").unwrap().1.unit, Some(Unit::MILLISECOND));
        assert_eq!(source_of("t_s=ms").unwrap().1.unit, None);
        let own = OwnSource { column: "own_rpm".into(), name: "Eng: rpm".into(), unit: Some("1/min".into()) };
        assert_eq!(own_source_of("own_rpm=Eng: rpm:1/min"), Ok(own));
        for wrong in [
            "own_rpm",
            "own_=x:1",
            "own_RPM=x:1",
            "own_a__b=x:1",
            "own_é=x:1",
            "own_rpm=x:a,b",
            "own_rpm=x:\n",
        ] {
            let why = own_source_of(wrong).unwrap_err();
            assert!(why.contains("--column 'own_"), "{why}");
        }
        for wrong in ["pull_n", "pull=Force", "pull_n=Force:in", "t_s=T:weeks"] {
            let why = source_of(wrong).unwrap_err();
            assert!(why.contains(wrong) && why.lines().count() == 1, "{why}");
        }
    }
}
