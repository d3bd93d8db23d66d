//! Which columns of a logger's file fill which columns of a run, as it was typed. Each error is one sentence.

use ingest::plow::ChannelRole;
use ingest::quantity::{Unit, unit_for};
use std::collections::BTreeSet;

/// How a logger's file is to be read.
#[derive(Clone, Debug, PartialEq)]
pub struct Columns {
    /// Where the time comes from; without it the file has a row each so often.
    pub time: Time,
    /// Where the readings come from, in the order of a run's columns.
    pub readings: Vec<(ChannelRole, Source)>,
    /// The sign between columns.
    pub separator: u8,
    /// Numbers are written with a decimal comma.
    pub decimal_comma: bool,
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
    /// One of the file's unit, in the run column's unit.
    pub factor: f64,
}

impl Columns {
    /// By columns as `pull_n=Force:kN`, and rows a second for a file without a time column.
    pub fn of(
        columns: &[String],
        rate: Option<f64>,
        separator: char,
        decimal_comma: bool,
    ) -> Result<Self, String> {
        let sources = columns.iter().map(|text| source_of(text)).collect::<Result<Vec<_>, _>>()?;
        if sources.iter().map(|(role, _)| *role).collect::<BTreeSet<_>>().len() < sources.len() {
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
        Ok(Self { time, readings, separator, decimal_comma })
    }

    /// The columns of the run that is made.
    pub fn roles(&self) -> Vec<ChannelRole> {
        self.readings.iter().map(|(role, _)| *role).collect()
    }
}

/// `pull_n=Force:kN`; `None` is the time.
fn source_of(text: &str) -> Result<(Option<ChannelRole>, Source), String> {
    let wrong = |why: String| format!("--column '{text}': {why}");
    let (column, rest) =
        text.split_once('=').ok_or_else(|| wrong("write RUN_COLUMN=NAME, such as pull_n=Force:kN".into()))?;
    let (name, unit) = rest.rsplit_once(':').map_or((rest, None), |(name, unit)| (name, Some(unit)));
    let role = match column {
        "t_s" => None,
        _ => Some(ChannelRole::of_column(column).ok_or_else(|| {
            let known: Vec<_> = ChannelRole::ALL.iter().map(|role| role.column()).collect();
            wrong(format!("'{column}' is not a column of a run (columns: t_s, {})", known.join(", ")))
        })?),
    };
    let own = role.map_or(Unit::SECOND, ChannelRole::column_unit);
    let named = |symbol: &str| {
        let unit = unit_for(own.dimension, symbol).map_err(|error| wrong(format!("'{symbol}' {error}")))?;
        Ok::<_, String>(unit.per(own))
    };
    let factor = unit.map_or(Ok(1.0), named)?;
    Ok((role, Source { name: name.to_owned(), factor }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mapping_names_column_source_and_unit() {
        let force = Source { name: "Force x".into(), factor: 1000.0 };
        assert_eq!(source_of("pull_n=Force x:kN"), Ok((Some(ChannelRole::Pull), force)));
        let (_, source) = source_of("depth_mm=Depth:in").unwrap();
        assert!((source.factor - 25.4).abs() < 1e-12);
        assert_eq!(source_of("t_s=ms:ms").unwrap().1.factor, 1e-3);
        for wrong in ["pull_n", "pull=Force", "pull_n=Force:in", "t_s=T:weeks"] {
            let why = source_of(wrong).unwrap_err();
            assert!(why.contains(wrong) && why.lines().count() == 1, "{why}");
        }
    }
}
