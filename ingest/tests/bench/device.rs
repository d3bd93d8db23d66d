//! What hangs at the end of a line.

use firmware_protocol::{
    Channel, ChannelKind, Decoder, Event, Frame, Hello, Label, Readings, Status, Time, encode,
};
use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt, DuplexStream};
use tokio::time::Instant;

/// Rows of 2 ms, ten a frame.
const INTERVAL_US: u64 = 2000;
const FRAME_ROWS: u64 = 10;

/// A device; a line that is put in again leads to the same one.
#[derive(Clone, Debug)]
pub enum Device {
    /// Says the same once a period, which may be nothing; given how many s it is on.
    Talker(fn(f64) -> Vec<u8>, Duration),
    Box(BenchBox),
}

/// A sensor box that has been on since the world began, and answers what it is asked.
#[derive(Clone, Debug)]
pub struct BenchBox {
    pub name: &'static str,
    pub serial: &'static str,
    pub major: u8,
    pub channels: Vec<(&'static str, ChannelKind)>,
    /// How many seconds pass on it in one.
    pub rate: f64,
    /// Its counts, channel by channel, so many s after it was switched on; none of a box that sends no rows.
    pub counts: fn(f64) -> Vec<i32>,
    /// How often it was pinged, over all lines.
    pub pings: Arc<AtomicU32>,
}

impl BenchBox {
    /// A box with the channels of the plow: 800 N of pull and 150 mm of depth.
    pub fn plow() -> Self {
        Self {
            name: "plow box",
            serial: "T-1",
            major: 1,
            channels: vec![("pull", ChannelKind::Pull), ("depth", ChannelKind::Depth)],
            rate: 1.0,
            counts: |_| vec![2600, 1500],
            pings: Arc::default(),
        }
    }

    /// One that measures something else beside it.
    pub fn other(name: &'static str, serial: &'static str) -> Self {
        let channels = vec![("pitch", ChannelKind::Pitch)];
        Self { name, serial, channels, counts: |_| vec![1500], ..Self::plow() }
    }

    fn hello(&self) -> Frame {
        let channel = |(name, kind): &(&str, ChannelKind)| Channel {
            name: Label::new(name).unwrap(),
            kind: *kind,
            adc_bits: 16,
            rate_mhz: 500_000,
        };
        let table: Vec<_> = self.channels.iter().map(channel).collect();
        let (serial, name) = (Label::new(self.serial).unwrap(), Label::new(self.name).unwrap());
        let mut hello = Hello::new(7, (1, 0, 0), 500_000, serial, name, &table).unwrap();
        hello.version.0 = self.major;
        Frame::Hello(hello)
    }

    async fn talk(self, began: Instant, line: &mut DuplexStream) -> Option<()> {
        let clock_us = || (began.elapsed().as_secs_f64() * self.rate * 1e6) as u64;
        let frame_now = || clock_us() / (INTERVAL_US * FRAME_ROWS);
        let (mut decoder, mut next_frame, mut status_s) = (Decoder::new(), None, 0);
        let mut buffer = [0; 512];
        say(line, &self.hello()).await?;
        loop {
            let read = tokio::time::timeout(Duration::from_millis(20), line.read(&mut buffer)).await;
            let mut bytes = match read {
                Ok(Ok(0) | Err(_)) => return None,
                Ok(Ok(length)) => &buffer[..length],
                Err(_) => &[],
            };
            while let Some(event) = decoder.next_event(&mut bytes) {
                match event {
                    Event::Frame(Frame::Ping { token }) => {
                        self.pings.fetch_add(1, Ordering::Relaxed);
                        say(line, &Frame::Time(Time { token, clock_us: clock_us() as u32 })).await?;
                    }
                    Event::Frame(Frame::Start) => {
                        next_frame = Some(frame_now());
                        say(line, &self.hello()).await?;
                    }
                    Event::Frame(Frame::Stop) => next_frame = None,
                    _ => {}
                }
            }
            while let Some(number) = next_frame.filter(|number| *number < frame_now()) {
                next_frame = Some(number + 1);
                let (row, first_us) = (number * FRAME_ROWS, number * FRAME_ROWS * INTERVAL_US);
                let counts: Vec<i32> = (0..FRAME_ROWS)
                    .flat_map(|k| (self.counts)((first_us + k * INTERVAL_US) as f64 / 1e6))
                    .collect();
                let (interval, channels) = (INTERVAL_US as u32, self.channels.len());
                if let Ok(rows) = Readings::new(row as u32, first_us as u32, interval, channels, &counts) {
                    say(line, &Frame::Readings(rows)).await?;
                }
            }
            if clock_us() / 1_000_000 > status_s {
                status_s = clock_us() / 1_000_000;
                let (uptime_ms, supply_mv) = ((clock_us() / 1000) as u32, 12_000);
                let status = Status { uptime_ms, rows_dropped: 0, supply_mv, temperature_centi_c: 2_000 };
                say(line, &Frame::Status(status)).await?;
            }
        }
    }
}

async fn say(line: &mut DuplexStream, frame: &Frame) -> Option<()> {
    line.write_all(encode(frame).as_bytes()).await.ok()
}

impl Device {
    /// One that says nothing.
    pub fn silent() -> Self {
        Self::Talker(|_| Vec::new(), Duration::from_secs(1))
    }

    /// One that says this again and again.
    pub fn says(what: fn(f64) -> Vec<u8>) -> Self {
        Self::Talker(what, Duration::from_millis(200))
    }

    /// A receiver with a fix that drives 1.5 m/s.
    pub fn receiver() -> Self {
        Self::says(|on_s| {
            let time = format!("{:02}{:05.2}", on_s as u32 / 60, on_s % 60.0);
            sentence(&format!("GNRMC,12{time},A,3000.0000,N,04000.0000,W,2.916,80.0,010127,,,A"))
        })
    }

    /// Talks until its line is pulled.
    pub async fn talk(self, began: Instant, mut line: DuplexStream) {
        match self {
            Self::Box(own) => {
                own.talk(began, &mut line).await;
            }
            Self::Talker(what, period) => loop {
                if line.write_all(&what(began.elapsed().as_secs_f64())).await.is_err() {
                    return;
                }
                tokio::time::sleep(period).await;
            },
        }
    }
}

/// A sentence of NMEA 0183 with its checksum, as a line.
pub fn sentence(body: &str) -> Vec<u8> {
    format!("${body}*{:02X}\r\n", body.bytes().fold(0, |sum, byte| sum ^ byte)).into_bytes()
}
