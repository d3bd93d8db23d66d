//! Body of a sentence, its checksum good, to what it says.

use super::{CHANNEL, HELLO, MARK, PING, ROW, START, STATUS, STOP, TIME, is_field_byte};
use crate::channel::{Channel, ChannelKind};
use crate::event::Dropped;
use crate::frame::{Frame, Mark, MarkSource, Status, Time};
use crate::hello::{Hello, HelloError};
use crate::{CHANNELS_MAX, Label, VERSION_MAJOR};

/// One row as its sentence has it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Row {
    pub(super) number: u32,
    pub(super) clock_us: u32,
    pub(super) channels: usize,
    pub(super) counts: [i32; CHANNELS_MAX],
}

/// What a sentence says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(clippy::large_enum_variant)] // as for `Frame`
pub(super) enum Said {
    /// A hello still without its channels, and how many they are.
    Hello { hello: Hello, channels: u8 },
    /// A line of the channel table.
    Channel { index: u8, channel: Channel },
    /// A row.
    Row(Row),
    /// A whole frame of any other kind.
    Frame(Frame),
}

/// Takes fields off the front; each has a comma before it. [`Dropped::Malformed`] is a field that is missing, is one too
/// many, or is not what it should be.
struct Fields<'a>(Option<&'a [u8]>);

impl<'a> Fields<'a> {
    fn text(&mut self) -> Result<&'a [u8], Dropped> {
        let all = self.0.ok_or(Dropped::Malformed)?;
        let end = all.iter().position(|byte| *byte == b',');
        let (field, rest) = all.split_at_checked(end.unwrap_or(all.len())).ok_or(Dropped::Malformed)?;
        self.0 = end.and_then(|_| rest.get(1..));
        Ok(field)
    }
    fn number<T: TryFrom<i64>>(&mut self) -> Result<T, Dropped> {
        number(self.text()?)
    }
    fn is_at_end(&self) -> bool {
        self.0.is_none()
    }
    fn end(&self) -> Result<(), Dropped> {
        if self.is_at_end() { Ok(()) } else { Err(Dropped::Malformed) }
    }
}

/// A whole number: digits, with `-` before them if it is below 0. Zeros in front do no harm.
fn number<T: TryFrom<i64>>(text: &[u8]) -> Result<T, Dropped> {
    // The library takes a `+` too.
    let text = core::str::from_utf8(text).ok().filter(|text| !text.starts_with('+'));
    let number = text.and_then(|text| text.parse::<i64>().ok());
    number.and_then(|number| T::try_from(number).ok()).ok_or(Dropped::Malformed)
}

/// What a sentence of ours says. `rest` is what stands between the letter and the `*`; `major` is the
/// version of the hello before, if there was one: another major version may add fields to a table's lines.
pub(super) fn parse(letter: u8, rest: &[u8], major: u8) -> Result<Said, Dropped> {
    let fields = match rest {
        [] => Fields(None),
        [b',', fields @ ..] => Fields(Some(fields)),
        _ => return Err(Dropped::Malformed),
    };
    if !rest.iter().all(|byte| *byte == b',' || is_field_byte(*byte)) {
        return Err(Dropped::Malformed);
    }
    match letter {
        HELLO => hello(fields),
        CHANNEL => channel(fields, major),
        ROW => Ok(Said::Row(row(fields)?)),
        _ => frame(letter, fields).map(Said::Frame),
    }
}

fn frame(letter: u8, mut fields: Fields<'_>) -> Result<Frame, Dropped> {
    let frame = match letter {
        MARK => Frame::Mark(Mark {
            clock_us: fields.number()?,
            source: MarkSource::Button,
            number: fields.number()?,
        }),
        STATUS => Frame::Status(Status {
            uptime_ms: fields.number()?,
            rows_dropped: fields.number()?,
            supply_mv: fields.number()?,
            temperature_centi_c: fields.number()?,
        }),
        TIME => Frame::Time(Time { token: fields.number()?, clock_us: fields.number()? }),
        PING => Frame::Ping { token: fields.number()? },
        START => Frame::Start,
        STOP => Frame::Stop,
        other => return Err(Dropped::UnknownKind(other)),
    };
    fields.end()?;
    Ok(frame)
}

fn hello(mut fields: Fields<'_>) -> Result<Said, Dropped> {
    let version = (fields.number()?, fields.number()?);
    // A box that counts no boots leaves the field empty.
    let boot = match fields.text()? {
        [] => 0,
        text => number(text)?,
    };
    let firmware = firmware(fields.text()?)?;
    let row_rate_mhz = fields.number()?;
    let label_error = |error| Dropped::Hello(HelloError::BoxLabel(error));
    let serial = Label::from_bytes(fields.text()?).map_err(label_error)?;
    let name = Label::from_bytes(fields.text()?).map_err(label_error)?;
    let channels = fields.number()?;
    if version.0 == VERSION_MAJOR {
        fields.end()?;
    }
    if !(1..=CHANNELS_MAX).contains(&usize::from(channels)) {
        return Err(Dropped::Hello(HelloError::ChannelCount { count: channels }));
    }
    let mut hello = Hello::bare(boot, firmware, row_rate_mhz, serial, name);
    hello.version = version;
    Ok(Said::Hello { hello, channels })
}

/// Three numbers with a `.` between them.
fn firmware(text: &[u8]) -> Result<(u8, u8, u8), Dropped> {
    let mut parts = text.split(|byte| *byte == b'.').map(number);
    let mut part = || parts.next().unwrap_or(Err(Dropped::Malformed));
    let firmware = (part()?, part()?, part()?);
    if parts.next().is_none() { Ok(firmware) } else { Err(Dropped::Malformed) }
}

fn channel(mut fields: Fields<'_>, major: u8) -> Result<Said, Dropped> {
    let index = fields.number()?;
    let kind = ChannelKind::from_code(fields.number()?);
    let adc_bits = fields.number()?;
    let rate_mhz = fields.number()?;
    let name = fields.text()?;
    if major == VERSION_MAJOR {
        fields.end()?;
    }
    let name = Label::from_bytes(name).map_err(|_| Dropped::Hello(HelloError::ChannelName { index }))?;
    Ok(Said::Channel { index, channel: Channel { name, kind, adc_bits, rate_mhz } })
}

fn row(mut fields: Fields<'_>) -> Result<Row, Dropped> {
    let mut row =
        Row { number: fields.number()?, clock_us: fields.number()?, channels: 0, counts: [0; CHANNELS_MAX] };
    while !fields.is_at_end() {
        *row.counts.get_mut(row.channels).ok_or(Dropped::Malformed)? = fields.number()?;
        row.channels += 1;
    }
    if row.channels == 0 { Err(Dropped::Malformed) } else { Ok(row) }
}
