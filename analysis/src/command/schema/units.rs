//! Units in the schema of a report: which unit the ending of a key names, and the keyword `unit` that says it.

use serde_json::{Map, Value};

/// Endings of keys, whole words of them, and the unit that each names; a longer one before one that it ends in. `1` is for
/// what has no unit: shares from 0 to 1, chances, ratios.
const ENDINGS: &[(&str, &str)] = &[
    ("n_per_cm2_per_kmh2", "N/cm² per (km/h)²"),
    ("n_per_cm2", "N/cm²"),
    ("n2_per_hz", "N²/Hz"),
    ("n_per_n", "N/N"),
    ("m_per_n", "m/N"),
    ("mm_per_min", "mm/min"),
    ("unit_per_count", "that of the channel's column per count"),
    ("cycles_per_m", "1/m"),
    ("n2_m", "N²·m"),
    ("mm2_m", "mm²·m"),
    ("n_m", "N·m"),
    ("mm2", "mm²"),
    ("n2", "N²"),
    ("mm", "mm"),
    ("m", "m"),
    ("n", "N"),
    ("w", "W"),
    ("v", "V"),
    ("c", "°C"),
    ("s", "s"),
    ("ms", "ms"),
    ("days", "d"),
    ("hz", "Hz"),
    ("mps", "m/s"),
    ("deg", "°"),
    ("ppm", "ppm"),
    ("percent", "%"),
    ("in_unit", "that of the channel's column"),
    ("count_mean", "counts"),
    ("count_sd", "counts"),
    ("count_drift", "counts"),
    ("zero_count", "counts"),
    ("balance_index", "1"),
    ("chance", "1"),
    ("coherence", "1"),
    ("coverage", "1"),
    ("cv", "1"),
    ("dof", "1"),
    ("draws", "1"),
    ("effect_size", "1"),
    ("factor", "1"),
    ("freedom", "1"),
    ("friction", "1"),
    ("half_width_now", "1"),
    ("half_width_then", "1"),
    ("least_p", "1"),
    ("other_by_slip", "1"),
    ("p_holm", "1"),
    ("p_paired", "1"),
    ("p_permutation", "1"),
    ("p_welch", "1"),
    ("probability", "1"),
    ("ratio", "1"),
    ("resistance", "1"),
    ("share", "1"),
    ("share_above", "1"),
    ("share_below", "1"),
    ("share_of_pull", "1"),
    ("slope", "1"),
    ("standard_uncertainties", "1"),
    ("suspicion", "1"),
];

/// The unit that a key names.
fn unit_of_key(key: &str) -> Option<&'static str> {
    let names = |ending: &str| {
        key.strip_suffix(ending).is_some_and(|before| before.is_empty() || before.ends_with('_'))
    };
    ENDINGS.iter().find(|(ending, _)| names(ending)).map(|(_, unit)| *unit)
}

/// Says the unit of each number of an object that has one: by its key, else by what its type says of all its numbers
/// (`#[schemars(extend("unit" = ...))]`), else by a key `unit` beside it.
pub(super) fn say_units(object: &mut Map<String, Value>) {
    let of_all = object.get("unit").and_then(Value::as_str).map(str::to_owned);
    let Some(Value::Object(properties)) = object.get_mut("properties") else { return };
    let beside = properties.contains_key("unit").then(|| "that of the key unit".to_owned());
    for (key, property) in properties {
        let unit = unit_of_key(key).map(str::to_owned).or_else(|| of_all.clone()).or_else(|| beside.clone());
        if let (true, Some(unit), Value::Object(property)) = (is_measured(property), unit, property) {
            property.entry("unit").or_insert(unit.into());
        }
    }
}

/// Whether a value is a number that is no mere count, a list of such, or a figure with its interval.
fn is_measured(schema: &Value) -> bool {
    let is_number = |of: &Value| match of.get("type") {
        Some(Value::String(one)) => one == "number",
        Some(Value::Array(several)) => several.iter().any(|one| one == "number"),
        _ => false,
    };
    let inner = ["items", "additionalProperties"].into_iter().filter_map(|key| schema.get(key));
    let each = ["prefixItems", "anyOf"].into_iter().filter_map(|key| schema.get(key)?.as_array()).flatten();
    let figures = ["#/$defs/Estimate", "#/$defs/WithInterval", "#/$defs/ValueRange"];
    is_number(schema)
        || schema.get("$ref").and_then(Value::as_str).is_some_and(|name| figures.contains(&name))
        || inner.chain(each).any(is_measured)
}

/// The numbers in a schema whose unit nobody says, by their keys.
#[cfg(test)]
pub(super) fn without_unit(schema: &Value) -> Vec<String> {
    let mut found = Vec::new();
    if let Some(Value::Object(properties)) = schema.get("properties") {
        let silent = properties.iter().filter(|(_, of)| is_measured(of) && of.get("unit").is_none());
        found.extend(silent.map(|(key, _)| key.clone()));
    }
    match schema {
        Value::Object(inner) => found.extend(inner.values().flat_map(without_unit)),
        Value::Array(inner) => found.extend(inner.iter().flat_map(without_unit)),
        _ => {}
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_key_names_its_unit_by_whole_words() {
        assert_eq!(unit_of_key("specific_draft_n_per_cm2"), Some("N/cm²"));
        assert_eq!(unit_of_key("turning_n_m"), Some("N·m"));
        assert_eq!(unit_of_key("pull_n"), Some("N"));
        assert_eq!(unit_of_key("lifted_share"), Some("1"));
        assert_eq!(unit_of_key("soil_slope"), Some("1"));
        assert_eq!(unit_of_key("run"), None);
        assert_eq!(unit_of_key("columns"), None);
    }

    #[test]
    fn a_number_that_nobody_says_the_unit_of_is_found() {
        let number = || json!({ "type": ["number", "null"] });
        let mut object =
            json!({ "properties": { "pull_n": number(), "depth": number(), "rows": { "type": "integer" } } });
        say_units(object.as_object_mut().unwrap());
        assert_eq!(object["properties"]["pull_n"]["unit"], "N");
        assert_eq!(without_unit(&json!({ "$defs": { "Depth": object } })), ["depth"]);
        let mut beside = json!({ "properties": { "by": number(), "unit": { "type": "string" } } });
        say_units(beside.as_object_mut().unwrap());
        assert_eq!(without_unit(&beside), [""; 0]);
    }
}
