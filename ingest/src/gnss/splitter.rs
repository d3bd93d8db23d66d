//! Bytes to sentences whose checksum is right. Everything else is counted.

/// Longest line that is taken, in bytes. NMEA 0183 allows 82 with its line end; receivers are known to
/// send somewhat longer ones (common practice, no source). A bound must be: the checksum has 8 bits only,
/// and the longer a damaged line, the more lines it was once.
const LINE_BYTES_MAX: usize = 128;

/// What was counted while lines were told apart.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[allow(missing_docs, reason = "as in `GnssCounters`")]
pub struct LineCounters {
    pub sentences: u64,
    pub bad_checksums: u64,
    /// Of these, lines that look whole but for a checksum, which they do not have at all.
    pub without_checksum: u64,
    pub not_sentences: u64,
    pub too_long: u64,
}

/// Tells sentences apart in a stream of bytes, in bounded memory.
#[derive(Clone, Debug, Default)]
pub struct Splitter {
    line: Vec<u8>,
    /// The rest of a line that was too long is passed over, up to the next `$` or line end.
    passing_over: bool,
    counters: LineCounters,
}

impl Splitter {
    /// What was counted so far.
    pub fn counters(&self) -> LineCounters {
        self.counters
    }

    /// Forgets the line that has begun: bytes after it are missing.
    pub fn reset(&mut self) {
        self.line.clear();
        self.passing_over = false;
    }

    /// Takes bytes; `found` is called with each sentence, from the address up to before the `*`.
    pub fn take(&mut self, bytes: &[u8], mut found: impl FnMut(&str)) {
        for byte in bytes {
            match byte {
                b'\r' | b'\n' => {
                    self.passing_over = false;
                    let line = std::mem::take(&mut self.line);
                    self.line_ended(&line, &mut found);
                    self.line = line;
                    self.line.clear();
                }
                b'$' if self.passing_over => {
                    self.passing_over = false;
                    self.line.push(b'$');
                }
                _ if self.passing_over => {}
                byte => {
                    self.line.push(*byte);
                    if self.line.len() > LINE_BYTES_MAX {
                        self.counters.too_long += 1;
                        self.line.clear();
                        self.passing_over = true;
                    }
                }
            }
        }
    }

    /// The last `$` begins the sentence: before it can stand what is left of one that was cut off, and
    /// that one is counted for itself.
    fn line_ended(&mut self, line: &[u8], found: &mut impl FnMut(&str)) {
        if line.is_empty() {
            return;
        }
        let Some(at) = line.iter().rposition(|byte| *byte == b'$') else {
            self.counters.not_sentences += 1;
            return;
        };
        let (before, sentence) = line.split_at(at);
        let Some(body) = checked_body(sentence) else {
            self.counters.bad_checksums += 1;
            self.counters.without_checksum += u64::from(lacks_checksum(sentence));
            return;
        };
        if before.contains(&b'$') {
            self.counters.bad_checksums += 1;
        } else if !before.is_empty() {
            self.counters.not_sentences += 1;
        }
        self.counters.sentences += 1;
        found(body);
    }
}

/// Of a line `$...*hh` the part between `$` and `*`, if `hh` is the exclusive-or of its bytes (NMEA 0183)
/// and all of them are printable.
pub fn checked_body(line: &[u8]) -> Option<&str> {
    let (body, checksum) = line.strip_prefix(b"$")?.split_last_chunk::<3>()?;
    let [b'*', high, low] = checksum else { return None };
    let digit = |byte: &u8| char::from(*byte).to_digit(16);
    let sum = body.iter().fold(0, |sum, byte| sum ^ byte);
    let right = digit(high)? * 16 + digit(low)? == u32::from(sum);
    let printable = body.iter().all(|byte| (b' '..=b'~').contains(byte) && *byte != b'*');
    if right && printable { std::str::from_utf8(body).ok() } else { None }
}

/// Whether this is a sentence with its five-letter address and its fields, printable from end to end, and without
/// any checksum: what a receiver sends whose checksums are switched off. A wrong speed hardly ever looks so.
pub fn lacks_checksum(line: &[u8]) -> bool {
    let Some((address, fields)) = line.strip_prefix(b"$").and_then(|body| body.split_first_chunk::<5>())
    else {
        return false;
    };
    let plain = address.iter().all(|byte| byte.is_ascii_uppercase() || byte.is_ascii_digit());
    let printable = fields.iter().all(|byte| (b' '..=b'~').contains(byte) && *byte != b'*');
    plain && printable && fields.first() == Some(&b',')
}

#[cfg(test)]
mod tests;
