//! A schema made from a type, with its units, its sentences for a reader of JSON, and no key more than the report has.

use super::units::say_units;
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde_json::{Map, Value};
use std::collections::BTreeSet;

/// Whether what stands at this place of the JSON, such as `pull/mean_n`, is a figure with its interval; `None` where the
/// schema has no such place.
pub(in super::super) fn has_interval(schema: &Value, path: &str) -> Option<bool> {
    // What may be null is one of two things, of which the null is no object.
    let meant = |of: &Value| {
        let one = of.get("anyOf").and_then(Value::as_array).and_then(|either| either.first()).unwrap_or(of);
        one.get("$ref").and_then(Value::as_str).and_then(|name| schema.pointer(name.strip_prefix('#')?))
    };
    let mut here = schema;
    for key in path.split('/') {
        here = meant(here).unwrap_or(here).get("properties")?.get(key)?;
    }
    let inside = meant(here).unwrap_or(here).get("properties");
    Some(inside.is_some_and(|inside| ["value", "low", "high"].iter().all(|key| inside.get(key).is_some())))
}

/// The schema of what is written of this type.
pub(in super::super) fn schema_for<T: JsonSchema>() -> Value {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    let mut schema = generator.into_root_schema_for::<T>().to_value();
    let mut extended = BTreeSet::new();
    find_extended(&schema, &mut extended);
    explain(&mut schema);
    close(&mut schema);
    if let Some(Value::Object(defs)) = schema.get_mut("$defs") {
        let open = defs.iter_mut().filter(|(name, _)| extended.contains(*name));
        open.filter_map(|(_, of)| of.as_object_mut()).for_each(|of| {
            of.remove("additionalProperties");
        });
    }
    schema
}

/// Definitions that stand in others with keys beside theirs (a `kind`), and so must not forbid these.
fn find_extended(schema: &Value, found: &mut BTreeSet<String>) {
    if let (Some(name), Some(_)) = (schema.get("$ref").and_then(Value::as_str), schema.get("properties")) {
        found.extend(name.rsplit('/').next().map(str::to_owned));
    }
    each_inside(schema, |inner| find_extended(inner, found));
}

pub(super) fn each_inside<'a>(schema: &'a Value, mut visit: impl FnMut(&'a Value)) {
    match schema {
        Value::Object(inner) => inner.values().for_each(&mut visit),
        Value::Array(inner) => inner.iter().for_each(&mut visit),
        _ => {}
    }
}

fn each_object(schema: &mut Value, change: &mut impl FnMut(&mut Map<String, Value>)) {
    match schema {
        Value::Object(inner) => {
            change(inner);
            inner.values_mut().for_each(|inner| each_object(inner, change));
        }
        Value::Array(inner) => inner.iter_mut().for_each(|inner| each_object(inner, change)),
        _ => {}
    }
}

/// Says units, and takes the links between types out of the sentences.
fn explain(schema: &mut Value) {
    each_object(schema, &mut |object| {
        say_units(object);
        if let Some(Value::String(sentence)) = object.get_mut("description") {
            *sentence = without_links(sentence);
        }
    });
}

/// Keys that are not in the schema are not in the report: a key that is written wrongly is found.
fn close(schema: &mut Value) {
    each_object(schema, &mut |object| {
        if object.get("properties").is_some_and(Value::is_object)
            && object.get("type") == Some(&"object".into())
        {
            let closing =
                if object.contains_key("$ref") { "unevaluatedProperties" } else { "additionalProperties" };
            object.entry(closing).or_insert(false.into());
        }
    });
}

/// ``[`Verdict::rests_on`](super::Verdict::rests_on)`` to `Verdict::rests_on`, without the marks and line ends.
fn without_links(sentence: &str) -> String {
    let mut parts = sentence.split("](super");
    let first = parts.next().unwrap_or_default().to_owned();
    let whole = parts.fold(first, |text, part| text + part.split_once(')').map_or(part, |(_, after)| after));
    whole.replace("[`", "").replace("`]", "").replace('`', "").replace('\n', " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn links_between_types_are_not_for_a_reader_of_json() {
        let told =
            "The part of [`Verdict::other_by_slip`](super::Verdict::other_by_slip) that\nfalls on [`Self`].";
        assert_eq!(without_links(told), "The part of Verdict::other_by_slip that falls on Self.");
    }
}
