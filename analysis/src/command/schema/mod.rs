//! `schema`: what the JSON of a report holds, key by key, as a JSON Schema made from the types that are written.

mod make;
mod report;
mod units;

pub(super) use make::{has_interval, schema_for};
pub(super) use report::{Report, SchemaArgs};

use super::output::{self, CommandError, Done};
use super::{calibrate, check, port_seen, statics};
use crate::compare::Comparison;
use crate::report::{Brief, InBothUnits};
use crate::summary::Summary;
use ::statics::joint::Joint;
use serde_json::Value;

pub(super) fn schema(report: Report) -> Result<Done, CommandError> {
    Ok(Done::report(output::json(&schema_of(report))?))
}

fn schema_of(report: Report) -> Value {
    match report {
        Report::Summary => schema_for::<Summary>(),
        Report::Brief => schema_for::<InBothUnits<Brief>>(),
        Report::Compare => schema_for::<Comparison>(),
        Report::Statics => schema_for::<statics::WithTop<'_>>(),
        Report::StaticsRuns => schema_for::<Joint>(),
        Report::Check => schema_for::<check::Checked>(),
        Report::Calibrate => schema_for::<calibrate::Calibrated<'_>>(),
        Report::Ports => schema_for::<Vec<port_seen::PortSeen>>(),
    }
}

#[cfg(test)]
mod tests {
    use super::make::each_inside;
    use super::*;
    use clap::ValueEnum;

    #[test]
    fn every_number_of_every_report_has_its_unit_and_every_key_its_sentence() {
        for report in Report::value_variants() {
            let schema = schema_of(*report);
            assert_eq!(units::without_unit(&schema), [""; 0], "{report:?}");
            assert_eq!(without_sentence(&schema), [""; 0], "{report:?}");
        }
    }

    /// What is shipped is what the program prints.
    #[test]
    fn the_shipped_schemas_are_those_of_the_types() {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/schemas");
        for report in Report::value_variants() {
            let name = report.to_possible_value().unwrap().get_name().to_owned();
            let shipped = std::fs::read_to_string(format!("{folder}/{name}.json")).unwrap();
            let made = output::json(&schema_of(*report)).unwrap();
            assert!(shipped == made, "cargo run -- schema {name} > analysis/schemas/{name}.json");
        }
        assert_eq!(std::fs::read_dir(folder).unwrap().count(), Report::value_variants().len());
    }

    /// Keys of what is no alternative, and alternatives as a whole: there the name of a key is the name of the kind, or
    /// stands beside it.
    fn without_sentence(schema: &Value) -> Vec<String> {
        let is_silent = |of: &Value| of.get("description").is_none();
        let properties = schema.get("properties").and_then(Value::as_object).into_iter().flatten();
        let keys = properties.filter(|(_, of)| is_silent(of)).map(|(key, _)| key.clone());
        let mut found: Vec<String> = keys.collect();
        let alternatives = schema.get("oneOf").and_then(Value::as_array).into_iter().flatten();
        found.extend(
            alternatives.filter(|of| is_silent(of) && of.get("properties").is_some()).map(Value::to_string),
        );
        let Value::Object(inside) = schema else {
            each_inside(schema, |inner| found.extend(without_sentence(inner)));
            return found;
        };
        for inner in inside.iter().filter(|(key, _)| *key != "oneOf").map(|(_, inner)| inner) {
            found.extend(without_sentence(inner));
        }
        found
    }
}
