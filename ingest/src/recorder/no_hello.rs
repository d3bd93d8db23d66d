//! What may be wrong with a port on which no box says hello.

use super::RecordError;
use super::station::Station;

/// What may be wrong with a port that shows no hello.
pub fn no_hello(station: &Station, baud: u32) -> RecordError {
    let port = station.watch.port.clone();
    let counters = station.live.counters();
    if counters.bytes == 0 {
        return RecordError::Silent { port };
    }
    if counters.frames > 0 {
        return RecordError::NoHello { port };
    }
    let nmea = station.first_bytes.windows(3).any(|three| three == b"$GP" || three == b"$GN");
    let hint = if nmea {
        "this looks like a GNSS receiver (NMEA 0183)".to_owned()
    } else {
        format!("check the baud rate (now {baud}) and that a sensor box is on this port")
    };
    RecordError::NoFrame { port, hint }
}
