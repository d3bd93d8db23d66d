//! The bodies of the fuzz targets that need no more than `firmware-protocol` and `ingest`, and what they share.

pub mod frames;
pub mod nmea;
pub mod plow_toml;
pub mod records;
pub mod repair;
pub mod run_toml;
mod script;
pub mod stored;
pub mod text;
pub mod text_records;
mod wrapped;

use firmware_protocol::Event;

/// All that a decoder's `next_event` gives of `bytes`, of which it must leave none.
fn events(mut bytes: &[u8], mut next_event: impl FnMut(&mut &[u8]) -> Option<Event>) -> Vec<Event> {
    let events = std::iter::from_fn(|| next_event(&mut bytes)).collect();
    assert!(bytes.is_empty(), "the decoder left bytes");
    events
}
