//! The text variant: frames as sentences in the form of NMEA 0183, for boxes that can do no more than print.
//!
//! A sentence is `$PHTW`, one letter for its kind, fields with a comma before each, `*`, and the XOR of the
//! bytes between `$` and `*` as two hexadecimal digits; any of CR and LF ends the line. `P` stands for
//! proprietary, `HTW` for us. The fields are in this crate's README and are the specification.
//!
//! The frames are those of the binary form: a hello is one sentence and one more for each channel, a
//! *readings* frame one sentence a row. So whoever takes frames need not know which form they came in.

mod decoder;
mod encode;
mod parse;
mod row_order;

pub use decoder::{Complaint, TextDecoder};
pub use encode::{Sentence, sentences};

/// Longest sentence, `$` to checksum, without its line end: a row of 8 channels with the longest numbers.
/// The 82 characters of NMEA 0183, line end included, would hold 5 channels of 24 bits.
pub const SENTENCE_BYTES_MAX: usize = 127;

/// What follows `$` in each sentence of ours, before the letter of its kind.
const ADDRESS: &[u8] = b"PHTW";

const HELLO: u8 = b'H';
const CHANNEL: u8 = b'C';
const ROW: u8 = b'R';
const MARK: u8 = b'M';
const STATUS: u8 = b'S';
const TIME: u8 = b'T';
const PING: u8 = b'P';
const START: u8 = b'G';
const STOP: u8 = b'X';

/// Checksum of a sentence: XOR of the bytes between its `$` and its `*`. Source: NMEA 0183.
fn checksum(body: &[u8]) -> u8 {
    body.iter().fold(0, |sum, byte| sum ^ byte)
}

/// Whether a byte may stand in a field: printable, and none of the characters that NMEA 0183 keeps for itself.
fn is_field_byte(byte: u8) -> bool {
    (0x20..=0x7E).contains(&byte) && !b"$*,!\\^~".contains(&byte)
}

/// Time from row to row in µs at this many rows in 1000 s; at least 1.
fn interval_us(row_rate_mhz: u32) -> u32 {
    let rounded = 1_000_000_000u32.saturating_add(row_rate_mhz / 2).checked_div(row_rate_mhz);
    rounded.unwrap_or(u32::MAX).max(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: NMEA 0183 example sentences as widely printed in receivers' manuals; from memory.
    #[test]
    fn checksums_of_published_sentences() {
        for (body, sum) in [
            ("GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,", 0x47),
            ("GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W", 0x6A),
            ("GPGSV,2,1,08,01,40,083,46,02,17,308,41,12,07,344,39,14,22,228,45", 0x75),
        ] {
            assert_eq!(checksum(body.as_bytes()), sum, "{body}");
        }
    }

    #[test]
    fn intervals_are_rounded_and_never_0() {
        for (rate, interval) in
            [(200_000, 5_000), (300_000, 3_333), (1, 1_000_000_000), (u32::MAX, 1), (0, u32::MAX)]
        {
            assert_eq!(interval_us(rate), interval);
        }
    }
}
