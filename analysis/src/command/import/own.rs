//! The user's own columns of an import: their units, and the plow that describes them. Each error is one sentence.

use super::columns::{Columns, own_column};
use super::logger_file::Imported;
use ingest::plow::{OwnColumn, OwnSensor, Plow, PlowToml};
use ingest::row_columns::RowColumns;

/// The columns of the run that is made, the plow with every column of the user's own in it, and what units were taken
/// from that.
pub fn described(
    columns: &Columns,
    imported: &Imported,
    plow: &Plow,
) -> Result<(RowColumns, Plow, Vec<String>), String> {
    let mut taken = Vec::new();
    let (of_plow, mut plow) = (plow.own_sensors.len(), plow.clone());
    let roles = columns.roles();
    let mut own = Vec::new();
    for (k, (source, in_file)) in columns.own.iter().zip(&imported.own_units).enumerate() {
        let what = format!("{} ({})", source.column, source.name);
        let place = roles.len() + k;
        let has_reading = |value: &f64| !value.is_nan();
        if !imported.rows.iter().any(|row| row.values().get(place).is_some_and(has_reading)) {
            return Err(format!("{what}: no row has a number in it: is it the right column?"));
        }
        let said = source.unit.as_ref().or(in_file.as_ref());
        let known = plow.own_sensors.iter().map(|sensor| &sensor.column);
        let column = match (known.clone().find(|known| known.column() == source.column), said) {
            (Some(known), Some(said)) if known.unit() != said => return Err(other_unit(&what, known, said)),
            (Some(known), said) => {
                let unit = said.is_none().then(|| known.unit());
                taken.extend(
                    unit.map(|unit| format!("{} is read in {unit}, by the plow description", source.name)),
                );
                known.clone()
            }
            (None, Some(unit)) => own_column(&source.column, unit).map_err(|why| format!("{what}: {why}"))?,
            (None, None) => {
                return Err(format!(
                    "in what unit is {what}? Say it behind its name, e.g. --column '{}={}:1/min'",
                    source.column, source.name
                ));
            }
        };
        if !known.clone().any(|known| *known == column) {
            let (channel, column) = (source.column.clone(), column.clone());
            plow.own_sensors.push(OwnSensor { channel, column, calibration: None, count_limits: None });
        }
        own.push(column);
    }
    if plow.own_sensors.len() > of_plow {
        // What was added must be what a description may say.
        plow = Plow::try_from(PlowToml::from(plow)).map_err(|fault| fault.to_string())?;
    }
    Ok((RowColumns { roles, own }, plow, taken))
}

fn other_unit(what: &str, known: &OwnColumn, said: &str) -> String {
    format!(
        "{what}: its unit is '{said}' here and '{unit}' in the plow description, and columns of your own are not \
         converted: convert it, or say ':{unit}' behind its name if it is in that",
        unit = known.unit()
    )
}
