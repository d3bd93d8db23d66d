//! Consistent Overhead Byte Stuffing: no 0x00 inside a frame, so that 0x00 can end it.
//!
//! Source: Cheshire & Baker 1999, IEEE/ACM Transactions on Networking 7(2).

/// Why bytes between two 0x00 are not a COBS block sequence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CobsError {
    /// A block says that it is longer than what is there.
    Truncated,
    /// A 0x00 stands where a block says how long it is.
    Zero,
    /// The output buffer is too short.
    NoRoom,
}

/// Writes `body` in COBS form into `out`, without the closing 0x00, and returns the bytes used:
/// at most `body.len() + body.len() / 254 + 1`.
///
/// # Errors
/// [`CobsError::NoRoom`] if `out` is too short.
pub fn encode(body: &[u8], out: &mut [u8]) -> Result<usize, CobsError> {
    let mut code_at = 0usize;
    let mut used = 1usize;
    let mut code = 1u8;
    put(out, 0, 1)?;
    let mut left = body.len();
    for &byte in body {
        left -= 1;
        if byte != 0 {
            put(out, used, byte)?;
            used += 1;
            code += 1;
        }
        // A full block ends without a zero of its own; at the very end no empty block follows it.
        if byte == 0 || (code == 0xFF && left > 0) {
            put(out, code_at, code)?;
            code_at = used;
            put(out, used, 1)?;
            used += 1;
            code = 1;
        }
    }
    put(out, code_at, code)?;
    Ok(used)
}

fn put(out: &mut [u8], at: usize, byte: u8) -> Result<(), CobsError> {
    *out.get_mut(at).ok_or(CobsError::NoRoom)? = byte;
    Ok(())
}

/// Decodes the COBS blocks in `bytes` in place; returns how many bytes at its front are the body.
/// A redundant empty block after a final full one, which some encoders write, is accepted.
///
/// A block's code byte stands just where the zero before it goes, shifted by one. So codes are
/// overwritten with zeros along the chain, and only a full block, which no zero follows, makes the
/// bytes after it move up: one move for a frame of ours instead of one for each block.
///
/// # Errors
/// [`CobsError::Truncated`] and [`CobsError::Zero`] as named; `bytes` is then of no use.
pub fn decode_in_place(bytes: &mut [u8]) -> Result<usize, CobsError> {
    let mut written = 0usize;
    let mut run_from = 1usize;
    let mut code_at = 0usize;
    let Some(&(mut code)) = bytes.first() else { return Ok(0) };
    loop {
        if code == 0 {
            return Err(CobsError::Zero);
        }
        let end = code_at + usize::from(code);
        if end > bytes.len() {
            return Err(CobsError::Truncated);
        }
        let next = bytes.get_mut(end);
        if code == 0xFF || next.is_none() {
            bytes.copy_within(run_from..end, written);
            written += end - run_from;
            run_from = end + 1;
            match bytes.get(end) {
                Some(&following) => code = following,
                None => return Ok(written),
            }
        } else if let Some(slot) = next {
            code = *slot;
            *slot = 0;
        }
        code_at = end;
    }
}
