//! Contents in the form that a port brings them in, with the right CRC or checksum, which no mutation would often
//! hit by chance.

use firmware_protocol::{cobs_encode, crc32c};

/// A frame.
pub fn framed(content: &[u8]) -> Vec<u8> {
    let mut body = content.to_vec();
    body.extend_from_slice(&crc32c(content).to_le_bytes());
    let mut out = vec![0; body.len() + body.len() / 254 + 2];
    let used = cobs_encode(&body, &mut out).unwrap_or(0);
    out.truncate(used);
    out.push(0);
    out
}

/// A sentence with its `$`, checksum and line end.
pub fn said(body: &[u8]) -> Vec<u8> {
    let sum = body.iter().fold(0, |sum, byte| sum ^ byte);
    [b"$", body, format!("*{sum:02X}\r\n").as_bytes()].concat()
}
