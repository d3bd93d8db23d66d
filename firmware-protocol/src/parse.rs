//! Body bytes to frame. Every length is checked exactly: a known kind has no room to grow.

use crate::frame::{Channel, ChannelKind, Frame, Hello, Mark, MarkSource, Readings, Status, Time};
use crate::{CHANNELS_MAX, COUNTS_MAX, Label};

/// Bytes of the CRC at the end of a body.
pub(crate) const CRC_BYTES: usize = 4;
/// Bytes of a *readings* body before its counts, the kind included.
pub(crate) const READINGS_HEAD_BYTES: usize = 15;

pub(crate) const HELLO: u8 = 0x01;
pub(crate) const READINGS: u8 = 0x02;
pub(crate) const MARK: u8 = 0x03;
pub(crate) const STATUS: u8 = 0x04;
pub(crate) const TIME: u8 = 0x05;
pub(crate) const PING: u8 = 0x41;
pub(crate) const START: u8 = 0x42;
pub(crate) const STOP: u8 = 0x43;
pub(crate) const RATE: u8 = 0x44;

/// Why a body with a good CRC is no frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum ParseError {
    /// The kind is not one of this version.
    UnknownKind(u8),
    /// Wrong length, or a field outside its range.
    Malformed,
}

/// Takes fixed-width numbers off the front of a payload.
struct Fields<'a>(&'a [u8]);

impl<'a> Fields<'a> {
    fn array<const N: usize>(&mut self) -> Result<[u8; N], ParseError> {
        let (head, rest) = self.0.split_first_chunk::<N>().ok_or(ParseError::Malformed)?;
        self.0 = rest;
        Ok(*head)
    }
    fn u8(&mut self) -> Result<u8, ParseError> {
        self.array::<1>().map(|[byte]| byte)
    }
    fn u16(&mut self) -> Result<u16, ParseError> {
        self.array().map(u16::from_le_bytes)
    }
    fn u32(&mut self) -> Result<u32, ParseError> {
        self.array().map(u32::from_le_bytes)
    }
    fn label<const N: usize>(&mut self) -> Result<Label<N>, ParseError> {
        let len = usize::from(self.u8()?);
        let text = self.0.get(..len).ok_or(ParseError::Malformed)?;
        self.0 = self.0.get(len..).unwrap_or(&[]);
        Label::from_bytes(text).map_err(|_| ParseError::Malformed)
    }
    fn end(&self) -> Result<(), ParseError> {
        if self.0.is_empty() { Ok(()) } else { Err(ParseError::Malformed) }
    }
}

fn nonzero(number: u32) -> Result<u32, ParseError> {
    if number == 0 { Err(ParseError::Malformed) } else { Ok(number) }
}

/// The frame in a body whose CRC has been checked and cut off.
pub(crate) fn parse(kind: u8, payload: &[u8]) -> Result<Frame, ParseError> {
    let mut fields = Fields(payload);
    let frame = match kind {
        HELLO => Frame::Hello(hello(&mut fields)?),
        READINGS => return readings(fields).map(Frame::Readings),
        MARK => Frame::Mark(Mark {
            clock_us: fields.u32()?,
            source: match fields.u8()? {
                0 => MarkSource::Button,
                1 => MarkSource::Host,
                _ => return Err(ParseError::Malformed),
            },
            number: fields.u16()?,
        }),
        STATUS => Frame::Status(Status {
            uptime_ms: fields.u32()?,
            rows_dropped: fields.u32()?,
            supply_mv: fields.u16()?,
            temperature_centi_c: fields.array().map(i16::from_le_bytes)?,
        }),
        TIME => Frame::Time(Time { token: fields.u32()?, clock_us: fields.u32()? }),
        PING => Frame::Ping { token: fields.u32()? },
        START => Frame::Start,
        STOP => Frame::Stop,
        RATE => Frame::Rate { row_rate_mhz: nonzero(fields.u32()?)? },
        other => return Err(ParseError::UnknownKind(other)),
    };
    fields.end()?;
    Ok(frame)
}

fn hello(fields: &mut Fields<'_>) -> Result<Hello, ParseError> {
    let version = (fields.u8()?, fields.u8()?);
    let boot = fields.u32()?;
    let firmware = (fields.u8()?, fields.u8()?, fields.u8()?);
    let row_rate_mhz = nonzero(fields.u32()?)?;
    let serial = fields.label()?;
    let name = fields.label()?;
    let count = usize::from(fields.u8()?);
    let mut channels = [Channel::default(); CHANNELS_MAX];
    let table = channels.get_mut(..count).ok_or(ParseError::Malformed)?;
    for channel in table.iter_mut() {
        let kind = ChannelKind::from_code(fields.u8()?);
        let adc_bits = fields.u8()?;
        let rate_mhz = nonzero(fields.u32()?)?;
        let name = fields.label()?;
        if !(1..=32).contains(&adc_bits) || name.as_bytes().is_empty() {
            return Err(ParseError::Malformed);
        }
        *channel = Channel { name, kind, adc_bits, rate_mhz };
    }
    let mut hello =
        Hello::new(boot, firmware, row_rate_mhz, serial, name, table).ok_or(ParseError::Malformed)?;
    hello.version = version;
    Ok(hello)
}

fn readings(mut fields: Fields<'_>) -> Result<Readings, ParseError> {
    let first_row = fields.u32()?;
    let clock_us = fields.u32()?;
    let interval_us = nonzero(fields.u32()?)?;
    let (channels, rows) = (usize::from(fields.u8()?), usize::from(fields.u8()?));
    let total = channels * rows;
    if fields.0.len() != total * 4 {
        return Err(ParseError::Malformed);
    }
    let mut counts = [0i32; COUNTS_MAX];
    let counts = counts.get_mut(..total).ok_or(ParseError::Malformed)?;
    for (count, bytes) in counts.iter_mut().zip(fields.0.chunks_exact(4)) {
        if let Ok(bytes) = bytes.try_into() {
            *count = i32::from_le_bytes(bytes);
        }
    }
    Readings::new(first_row, clock_us, interval_us, channels, counts).map_err(|_| ParseError::Malformed)
}
