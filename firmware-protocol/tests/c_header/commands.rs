//! Commands to the program, and what the crate says to the same.

use firmware_protocol::{
    Channel, ChannelKind, Event, Frame, Hello, Label, Mark, MarkSource, Readings, Status, Time,
    VERSION_MAJOR, VERSION_MINOR,
};

use crate::samples::wire;

pub fn put_text(commands: &mut Vec<u8>, text: &[u8]) {
    commands.push(u8::try_from(text.len()).unwrap());
    commands.extend(text);
}

/// What a hello says, right or not: texts of any length, any number of channels.
#[derive(Clone, Debug)]
pub struct Told {
    pub boot: u32,
    pub firmware: (u8, u8, u8),
    pub row_rate_mhz: u32,
    pub serial: Vec<u8>,
    pub name: Vec<u8>,
    pub table: Vec<(u8, u8, u32, Vec<u8>)>,
}

impl Told {
    pub fn of(hello: &Hello) -> Self {
        let line = |c: &Channel| (c.kind.code(), c.adc_bits, c.rate_mhz, c.name.as_bytes().to_vec());
        Self {
            boot: hello.boot,
            firmware: hello.firmware,
            row_rate_mhz: hello.row_rate_mhz,
            serial: hello.serial.as_bytes().to_vec(),
            name: hello.name.as_bytes().to_vec(),
            table: hello.channels().iter().map(line).collect(),
        }
    }

    pub fn put_command(&self, commands: &mut Vec<u8>) {
        commands.push(b'H');
        commands.extend(self.boot.to_le_bytes());
        commands.extend([self.firmware.0, self.firmware.1, self.firmware.2]);
        commands.extend(self.row_rate_mhz.to_le_bytes());
        put_text(commands, &self.serial);
        put_text(commands, &self.name);
        commands.push(u8::try_from(self.table.len()).unwrap());
        for (code, bits, rate_mhz, name) in &self.table {
            commands.extend([*code, *bits]);
            commands.extend(rate_mhz.to_le_bytes());
            put_text(commands, name);
        }
    }

    /// The crate's bytes for it; none if the crate refuses it.
    pub fn wire(&self) -> Option<Vec<u8>> {
        let line = |(code, adc_bits, rate_mhz, name): &(u8, u8, u32, Vec<u8>)| {
            let name = Label::from_bytes(name).ok()?;
            Some(Channel {
                name,
                kind: ChannelKind::from_code(*code),
                adc_bits: *adc_bits,
                rate_mhz: *rate_mhz,
            })
        };
        let table = self.table.iter().map(line).collect::<Option<Vec<_>>>()?;
        let (serial, name) = (Label::from_bytes(&self.serial).ok()?, Label::from_bytes(&self.name).ok()?);
        Hello::new(self.boot, self.firmware, self.row_rate_mhz, serial, name, &table)
            .map(|hello| wire(&Frame::Hello(hello)))
    }
}

/// Writes the command for a frame that a box sends; the answer should be the bytes of the frame returned.
/// The header speaks its own minor version and marks by the button only, so these two are set so.
pub fn put_command(mut frame: Frame, commands: &mut Vec<u8>) -> Frame {
    match &mut frame {
        Frame::Hello(hello) => {
            hello.version = (VERSION_MAJOR, VERSION_MINOR);
            Told::of(hello).put_command(commands);
        }
        Frame::Readings(readings) => put_readings(readings, commands),
        Frame::Mark(Mark { clock_us, source, number }) => {
            *source = MarkSource::Button;
            commands.push(b'M');
            commands.extend(clock_us.to_le_bytes());
            commands.extend(number.to_le_bytes());
        }
        Frame::Status(Status { uptime_ms, rows_dropped, supply_mv, temperature_centi_c }) => {
            commands.push(b'S');
            commands.extend(uptime_ms.to_le_bytes());
            commands.extend(rows_dropped.to_le_bytes());
            commands.extend(supply_mv.to_le_bytes());
            commands.extend(i32::from(*temperature_centi_c).to_le_bytes());
        }
        Frame::Time(Time { token, clock_us }) => {
            commands.push(b'T');
            commands.extend(token.to_le_bytes());
            commands.extend(clock_us.to_le_bytes());
        }
        Frame::Ping { .. } | Frame::Start | Frame::Stop | Frame::Rate { .. } => {
            panic!("{frame:?} is none of a box's frames")
        }
    }
    frame
}

pub fn put_readings(readings: &Readings, commands: &mut Vec<u8>) {
    commands.push(b'R');
    for number in [readings.first_row, readings.clock_us, readings.interval_us] {
        commands.extend(number.to_le_bytes());
    }
    commands.push(u8::try_from(readings.channel_count()).unwrap());
    commands.push(u8::try_from(readings.row_count()).unwrap());
    commands.extend(readings.counts().iter().flat_map(|count| count.to_le_bytes()));
}

pub fn put_bytes(commands: &mut Vec<u8>, bytes: &[u8]) {
    commands.push(b'D');
    commands.extend(u16::try_from(bytes.len()).unwrap().to_le_bytes());
    commands.extend(bytes);
}

/// What the header says to each chunk that the crate has this event for.
pub fn said_in_c(event: &Event) -> Vec<u8> {
    let with_value = |kind: u8, value: &u32| [&[kind][..], &value.to_le_bytes()].concat();
    match event {
        Event::Frame(Frame::Ping { token }) => with_value(0x41, token),
        Event::Frame(Frame::Start) => vec![0x42],
        Event::Frame(Frame::Stop) => vec![0x43],
        Event::Frame(Frame::Rate { row_rate_mhz }) => with_value(0x44, row_rate_mhz),
        // A box does nothing about its own kinds, whoever sends them, nor about what is no frame.
        Event::Frame(_) | Event::Dropped(_) => vec![0xFF],
    }
}
