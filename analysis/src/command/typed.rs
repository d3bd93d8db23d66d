//! Single values that may be typed behind an option.

use clap::builder::{PossibleValuesParser, TypedValueParser};
use ingest::plow::ChannelRole;
use std::time::Duration;

/// The name of what a channel measures: help and errors list them all.
pub(super) fn role() -> impl TypedValueParser<Value = ChannelRole> {
    let names = ChannelRole::ALL.iter().map(|role| role.name());
    PossibleValuesParser::new(names).try_map(|name| ChannelRole::of_name(&name))
}

pub(super) fn listening_time(text: &str) -> Result<Duration, String> {
    let seconds = text.parse().ok().filter(|seconds: &f64| (0.1..=60.0).contains(seconds));
    let seconds = seconds.ok_or_else(|| "a step is listened to for 0.1 to 60 s".to_owned())?;
    Ok(Duration::from_secs_f64(seconds))
}

pub(super) fn separator(text: &str) -> Result<char, String> {
    let mut signs = text.chars();
    match (text, signs.next(), signs.next()) {
        ("tab" | "\\t", ..) => Ok('\t'),
        (_, Some(sign), None) => Ok(sign),
        _ => Err("write one sign, or the word tab".to_owned()),
    }
}
