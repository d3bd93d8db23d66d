//! Body bytes to frame. Every length is checked exactly: a known kind has no room to grow
//! (but the hello of another major version, which is read only to be refused by name).

use crate::channel::{Channel, ChannelKind};
use crate::event::Dropped;
use crate::frame::{Frame, Mark, MarkSource, Readings, Status, Time};
use crate::hello::{Hello, HelloError};
use crate::{CHANNELS_MAX, COUNTS_MAX, Label, VERSION_MAJOR};

pub(crate) const HELLO: u8 = 0x01;
pub(crate) const READINGS: u8 = 0x02;
pub(crate) const MARK: u8 = 0x03;
pub(crate) const STATUS: u8 = 0x04;
pub(crate) const TIME: u8 = 0x05;
pub(crate) const PING: u8 = 0x41;
pub(crate) const START: u8 = 0x42;
pub(crate) const STOP: u8 = 0x43;
pub(crate) const RATE: u8 = 0x44;

/// The payload's length is not what its fields ask for.
struct WrongLength;

impl From<WrongLength> for Dropped {
    fn from(_: WrongLength) -> Self {
        Self::Malformed
    }
}

impl From<WrongLength> for HelloError {
    fn from(_: WrongLength) -> Self {
        Self::Length
    }
}

/// Takes fixed-width numbers off the front of a payload.
struct Fields<'a>(&'a [u8]);

impl<'a> Fields<'a> {
    fn array<const N: usize>(&mut self) -> Result<[u8; N], WrongLength> {
        let (head, rest) = self.0.split_first_chunk::<N>().ok_or(WrongLength)?;
        self.0 = rest;
        Ok(*head)
    }
    fn u8(&mut self) -> Result<u8, WrongLength> {
        self.array::<1>().map(|[byte]| byte)
    }
    fn u16(&mut self) -> Result<u16, WrongLength> {
        self.array().map(u16::from_le_bytes)
    }
    fn u32(&mut self) -> Result<u32, WrongLength> {
        self.array().map(u32::from_le_bytes)
    }
    fn text(&mut self) -> Result<&'a [u8], WrongLength> {
        let len = usize::from(self.u8()?);
        let (text, rest) = self.0.split_at_checked(len).ok_or(WrongLength)?;
        self.0 = rest;
        Ok(text)
    }
    fn end(&self) -> Result<(), WrongLength> {
        if self.0.is_empty() { Ok(()) } else { Err(WrongLength) }
    }
}

/// The frame in a body whose CRC has been checked and cut off; else why it is none.
pub(crate) fn parse(kind: u8, payload: &[u8]) -> Result<Frame, Dropped> {
    let mut fields = Fields(payload);
    let frame = match kind {
        HELLO => return hello(fields).map(Frame::Hello).map_err(Dropped::Hello),
        READINGS => return readings(fields).map(Frame::Readings),
        MARK => Frame::Mark(Mark {
            clock_us: fields.u32()?,
            source: match fields.u8()? {
                0 => MarkSource::Button,
                1 => MarkSource::Host,
                _ => return Err(Dropped::Malformed),
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
        RATE => match fields.u32()? {
            0 => return Err(Dropped::Malformed),
            row_rate_mhz => Frame::Rate { row_rate_mhz },
        },
        other => return Err(Dropped::UnknownKind(other)),
    };
    fields.end()?;
    Ok(frame)
}

fn hello(mut fields: Fields<'_>) -> Result<Hello, HelloError> {
    let version = (fields.u8()?, fields.u8()?);
    let boot = fields.u32()?;
    let firmware = (fields.u8()?, fields.u8()?, fields.u8()?);
    let row_rate_mhz = fields.u32()?;
    let serial = Label::from_bytes(fields.text()?).map_err(HelloError::BoxLabel)?;
    let name = Label::from_bytes(fields.text()?).map_err(HelloError::BoxLabel)?;
    let count = fields.u8()?;
    let mut channels = [Channel::default(); CHANNELS_MAX];
    let table = channels.get_mut(..usize::from(count)).ok_or(HelloError::ChannelCount { count })?;
    for (index, channel) in (0u8..).zip(table.iter_mut()) {
        let kind = ChannelKind::from_code(fields.u8()?);
        let adc_bits = fields.u8()?;
        let rate_mhz = fields.u32()?;
        let name = Label::from_bytes(fields.text()?).map_err(|_| HelloError::ChannelName { index })?;
        *channel = Channel { name, kind, adc_bits, rate_mhz };
    }
    // Another major version may go on after the table; it is for the caller to refuse it by name.
    if version.0 == VERSION_MAJOR {
        fields.end()?;
    }
    let mut hello = Hello::bare(boot, firmware, row_rate_mhz, serial, name);
    hello.version = version;
    hello.with_table(table)
}

fn readings(mut fields: Fields<'_>) -> Result<Readings, Dropped> {
    let first_row = fields.u32()?;
    let clock_us = fields.u32()?;
    let interval_us = fields.u32()?;
    let (channels, rows) = (usize::from(fields.u8()?), usize::from(fields.u8()?));
    let total = channels * rows;
    if fields.0.len() != total * 4 {
        return Err(Dropped::Malformed);
    }
    let mut counts = [0i32; COUNTS_MAX];
    let counts = counts.get_mut(..total).ok_or(Dropped::Malformed)?;
    for (count, bytes) in counts.iter_mut().zip(fields.0.chunks_exact(4)) {
        if let Ok(bytes) = bytes.try_into() {
            *count = i32::from_le_bytes(bytes);
        }
    }
    Readings::new(first_row, clock_us, interval_us, channels, counts).map_err(|_| Dropped::Malformed)
}
