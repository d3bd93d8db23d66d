//! The rows that the reference firmware makes up in place of an ADC, worked out anew from their numbers: what is
//! recorded from it can be held, row by row, against what it must have sent.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

use firmware_protocol::{Decoder, Event, Frame, Readings, Status};
use ingest::wire_file::{WireEvent, WireReader};

use crate::{Doing, Failure, Outcome};

/// The counts of a row, as `firmware-protocol/c/firmware/adc.c` says: pull, tail, depth.
pub fn counts_of(row: u32) -> [i32; 3] {
    let made = |base: u32, step: u32, size: u32| {
        i32::try_from(base + row.wrapping_mul(step) % size).unwrap_or(i32::MIN)
    };
    [made(400_000, 7919, 1 << 20), made(10_000, 4051, 1 << 14), made(20_000, 2579, 1 << 13)]
}

/// What a stream of frames from the firmware says about one boot.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Boot {
    /// Box clock of each row that came, by its number, in µs.
    pub rows: BTreeMap<u32, u32>,
    /// Rows dropped, by the last status.
    pub rows_dropped: u32,
    /// Times from row to row, each with the number of the first row that has it, in µs.
    pub intervals: Vec<(u32, u32)>,
}

impl Boot {
    /// Rows that are missing between the first and the last that came.
    pub fn rows_missing(&self) -> u32 {
        let first_and_last = self.rows.keys().next().zip(self.rows.keys().next_back());
        let count = u32::try_from(self.rows.len()).unwrap_or(u32::MAX);
        first_and_last.map_or(0, |(first, last)| last - first + 1 - count)
    }

    fn take(&mut self, readings: &Readings) -> Result<(), String> {
        let interval_us = readings.interval_us;
        let interval_before_us = self.intervals.last().map_or(interval_us, |(_, before_us)| *before_us);
        if self.intervals.is_empty() || interval_before_us != interval_us {
            self.intervals.push((readings.first_row, interval_us));
        }
        for (k, counts) in (0..).zip(readings.rows()) {
            let row = readings.first_row.wrapping_add(k);
            let clock_us = readings.clock_us.wrapping_add(k.wrapping_mul(interval_us));
            if counts != counts_of(row) {
                return Err(format!("row {row} has the counts {counts:?}, not {:?}", counts_of(row)));
            }
            let step_us = if k == 0 { interval_before_us } else { interval_us };
            if let Some((&before, &before_us)) = self.rows.iter().next_back() {
                if row <= before {
                    return Err(format!("row {row} comes after row {before}"));
                }
                let since_us = clock_us.wrapping_sub(before_us);
                // In a gap with another rate behind it nobody knows which rows had which.
                let known = step_us == interval_us || row == before + 1;
                if known && since_us != (row - before).wrapping_mul(step_us) {
                    return Err(format!("row {row} comes {since_us} us after row {before}"));
                }
            }
            self.rows.insert(row, clock_us);
        }
        Ok(())
    }
}

/// The boots that frames of the firmware speak of, by boot number.
///
/// # Errors
/// At the first row whose counts, number or clock are not what the firmware must have sent.
pub fn boots_in(frames: &[Frame]) -> Outcome<BTreeMap<u32, Boot>> {
    let mut boots = BTreeMap::new();
    let mut number = None;
    for frame in frames {
        if let Frame::Hello(hello) = frame {
            number = Some(hello.boot);
        }
        let Some(number) = number else { continue };
        let boot: &mut Boot = boots.entry(number).or_default();
        match frame {
            Frame::Readings(readings) => {
                boot.take(readings).map_err(|why| Failure(format!("boot {number}: {why}")))?;
            }
            Frame::Status(Status { rows_dropped, .. }) => boot.rows_dropped = *rows_dropped,
            _ => {}
        }
    }
    Ok(boots)
}

/// The bytes from the box in `plow.wire` of a run.
pub fn bytes_in_wire(run: &Path) -> Outcome<Vec<u8>> {
    let path = run.join("plow.wire");
    let bytes = fs::read(&path).doing(|| format!("read {}", path.display()))?;
    let mut reader = WireReader::new(&bytes);
    let received = reader.by_ref().filter_map(|record| match record.what {
        WireEvent::Received(bytes) => Some(bytes),
        _ => None,
    });
    let received: Vec<Vec<u8>> = received.collect();
    match reader.fault() {
        None => Ok(received.concat()),
        Some(fault) => Err(Failure(format!("{}: {fault}", path.display()))),
    }
}

pub fn frames_in(mut bytes: &[u8]) -> Vec<Frame> {
    let mut decoder = Decoder::new();
    let mut frames = Vec::new();
    while let Some(event) = decoder.next_event(&mut bytes) {
        if let Event::Frame(frame) = event {
            frames.push(frame);
        }
    }
    frames
}

/// The truth about these boots in the form of a virtual box's truth file: every row from the first number to the last,
/// with the counts that it must have, and the time of the box clock.
pub fn write_truth(boots: &BTreeMap<u32, Boot>, path: &Path) -> Outcome<()> {
    let mut text = String::from("boot,row,clock_us,fate,pull_count,tail_count,depth_count,t_s,host_s\n");
    for (boot, Boot { rows, .. }) in boots {
        let mut last_us = 0;
        for row in 0..=rows.keys().next_back().copied().unwrap_or(0) {
            // What was dropped has no time that anybody knows, and needs none.
            let came = rows.get(&row).copied();
            last_us = came.unwrap_or(last_us);
            let [pull, tail, depth] = counts_of(row);
            let fate = if came.is_some() { "sent" } else { "dropped" };
            let t_s = f64::from(last_us) / 1e6;
            // Writing to a text cannot fail.
            let _ = writeln!(text, "{boot},{row},{last_us},{fate},{pull},{tail},{depth},{t_s:.6},nan");
        }
    }
    fs::write(path, text).doing(|| format!("write {}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use firmware_protocol::{Channel, ChannelKind, Hello, Label};

    /// By hand from adc.c.
    #[test]
    fn counts_are_those_of_the_firmware() {
        assert_eq!(counts_of(0), [400_000, 10_000, 20_000]);
        assert_eq!(counts_of(1), [407_919, 14_051, 22_579]);
        // 1000 · 7919 = 7 · 2^20 + 578,968; 1000 · 4051 = 247 · 2^14 + 4152; 1000 · 2579 = 314 · 2^13 + 6712.
        assert_eq!(counts_of(1000), [978_968, 14_152, 26_712]);
    }

    fn frame(first_row: u32, clock_us: u32, counts: &[i32]) -> Frame {
        Frame::Readings(Readings::new(first_row, clock_us, 5000, 3, counts).unwrap())
    }

    fn hello() -> Frame {
        let (name, rate_mhz) = (Label::new("pull").unwrap(), 200_000);
        let channel = Channel { name, rate_mhz, kind: ChannelKind::Pull, adc_bits: 24 };
        let hello = Hello::new(1, (1, 0, 0), rate_mhz, Label::default(), Label::default(), &[channel]);
        Frame::Hello(hello.unwrap())
    }

    #[test]
    fn a_row_that_was_never_sent_is_found() {
        let good = [hello(), frame(0, 70, &counts_of(0)), frame(3, 15_070, &counts_of(3))];
        assert_eq!(boots_in(&good).unwrap()[&1].rows_missing(), 2);
        let wrong =
            [frame(3, 15_070, &counts_of(4)), frame(3, 15_071, &counts_of(3)), frame(0, 70, &counts_of(0))];
        for wrong in wrong {
            assert!(boots_in(&[hello(), good[1], wrong]).is_err(), "{wrong:?}");
        }
    }
}
