//! Frame to bytes on the wire.

use crate::frame::{Frame, MarkSource};
use crate::hello::Hello;
use crate::label::Label;
use crate::{BODY_BYTES_MAX, FRAME_BYTES_MAX, cobs, crc32c, parse};

/// A body under construction. The largest frame of each kind fits by the bounds of its types (a test
/// builds them), so a byte too many is dropped here rather than made an error that nobody can meet.
struct Body {
    bytes: [u8; BODY_BYTES_MAX],
    len: usize,
}

impl Body {
    fn put(&mut self, bytes: &[u8]) {
        let end = self.len + bytes.len();
        if let Some(room) = self.bytes.get_mut(self.len..end) {
            room.copy_from_slice(bytes);
            self.len = end;
        }
    }
    fn label<const N: usize>(&mut self, label: &Label<N>) {
        self.put(&[label.length()]);
        self.put(label.as_bytes());
    }
    fn filled(&self) -> &[u8] {
        self.bytes.get(..self.len).unwrap_or(&[])
    }
}

/// One frame as bytes on the wire, its closing 0x00 included: at most [`FRAME_BYTES_MAX`].
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct FrameBytes {
    bytes: [u8; FRAME_BYTES_MAX],
    len: usize,
}

impl FrameBytes {
    /// The bytes, the closing 0x00 last.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8] {
        self.bytes.get(..self.len).unwrap_or(&[])
    }
}

impl core::fmt::Debug for FrameBytes {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        self.as_bytes().fmt(f)
    }
}

/// The bytes of `frame` on the wire.
///
/// Fields that are public are sent as they are: a rate or an interval set to 0 is refused by the
/// receiver, not here.
#[must_use]
pub fn encode(frame: &Frame) -> FrameBytes {
    let mut body = Body { bytes: [0; BODY_BYTES_MAX], len: 0 };
    put_frame(frame, &mut body);
    let crc = crc32c(body.filled());
    body.put(&crc.to_le_bytes());
    let mut bytes = [0u8; FRAME_BYTES_MAX];
    // The buffer holds the longest body with its code byte, so NoRoom cannot come; the byte after is 0x00.
    let used = cobs::encode(body.filled(), &mut bytes).unwrap_or(0);
    FrameBytes { bytes, len: used + 1 }
}

fn put_frame(frame: &Frame, body: &mut Body) {
    match frame {
        Frame::Hello(hello) => put_hello(hello, body),
        Frame::Readings(readings) => {
            body.put(&[parse::READINGS]);
            body.put(&readings.first_row.to_le_bytes());
            body.put(&readings.clock_us.to_le_bytes());
            body.put(&readings.interval_us.to_le_bytes());
            body.put(&[readings.channels, readings.rows]);
            for count in readings.counts() {
                body.put(&count.to_le_bytes());
            }
        }
        Frame::Mark(mark) => {
            body.put(&[parse::MARK]);
            body.put(&mark.clock_us.to_le_bytes());
            body.put(&[match mark.source {
                MarkSource::Button => 0,
                MarkSource::Host => 1,
            }]);
            body.put(&mark.number.to_le_bytes());
        }
        Frame::Status(status) => {
            body.put(&[parse::STATUS]);
            body.put(&status.uptime_ms.to_le_bytes());
            body.put(&status.rows_dropped.to_le_bytes());
            body.put(&status.supply_mv.to_le_bytes());
            body.put(&status.temperature_centi_c.to_le_bytes());
        }
        Frame::Time(time) => {
            body.put(&[parse::TIME]);
            body.put(&time.token.to_le_bytes());
            body.put(&time.clock_us.to_le_bytes());
        }
        Frame::Ping { token } => {
            body.put(&[parse::PING]);
            body.put(&token.to_le_bytes());
        }
        Frame::Start => body.put(&[parse::START]),
        Frame::Stop => body.put(&[parse::STOP]),
        Frame::Rate { row_rate_mhz } => {
            body.put(&[parse::RATE]);
            body.put(&row_rate_mhz.to_le_bytes());
        }
    }
}

fn put_hello(hello: &Hello, body: &mut Body) {
    body.put(&[parse::HELLO, hello.version.0, hello.version.1]);
    body.put(&hello.boot.to_le_bytes());
    body.put(&[hello.firmware.0, hello.firmware.1, hello.firmware.2]);
    body.put(&hello.row_rate_mhz.to_le_bytes());
    body.label(&hello.serial);
    body.label(&hello.name);
    body.put(&[hello.channel_count]);
    for channel in hello.channels() {
        body.put(&[channel.kind.code(), channel.adc_bits]);
        body.put(&channel.rate_mhz.to_le_bytes());
        body.label(&channel.name);
    }
}
