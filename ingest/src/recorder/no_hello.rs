//! What may be wrong with a port on which no box says hello.

use super::RecordError;
use super::station::Station;
use crate::look::hint;
use firmware_protocol::Form;

/// What may be wrong with a port that shows no hello.
pub fn no_hello(station: &Station, baud: u32) -> RecordError {
    let port = station.watch.port.clone();
    let counters = station.live.counters();
    if counters.bytes == 0 {
        return RecordError::Silent { port };
    }
    if counters.frames > 0 && station.live.decoder().form() == Some(Form::Binary) {
        return RecordError::NoHello { port };
    }
    RecordError::NoFrame { port, hint: hint(station.live.decoder(), &station.first_bytes, baud) }
}
