//! The frames as values. Their bytes are laid out in `parse` and `encode`, and in the README.

use crate::hello::Hello;
use crate::{CHANNELS_MAX, COUNTS_MAX};

/// One frame, in either direction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the lines above the variants say what their fields are")]
#[allow(clippy::large_enum_variant)] // no allocation here; a frame lives on the stack and is moved once
pub enum Frame {
    /// Box to host: who I am and what my channels are.
    Hello(Hello),
    /// Box to host: rows of raw counts.
    Readings(Readings),
    /// Box to host: a moment to remember.
    Mark(Mark),
    /// Box to host: how the box is doing.
    Status(Status),
    /// Box to host: the answer to a ping.
    Time(Time),
    /// Host to box: answer with *time* and this token, which comes back unchanged in [`Time::token`].
    Ping { token: u32 },
    /// Host to box: answer with *hello*, then send readings.
    Start,
    /// Host to box: send no more readings.
    Stop,
    /// Host to box: sample this many rows per 1000 s (mHz), never 0, from the next row on.
    Rate { row_rate_mhz: u32 },
}

/// *readings*: consecutive rows of raw counts, one count a channel in each row.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Readings {
    /// Number of the first row here. Every row that the box samples has the next number, so what is
    /// lost is counted exactly in rows; it wraps after 2^32 and starts at 0 at each boot.
    pub first_row: u32,
    /// Box clock at the first row, in µs; it wraps after 2^32 µs (71.6 min).
    pub clock_us: u32,
    /// Time from row to row, in µs, never 0.
    pub interval_us: u32,
    pub(crate) channels: u8,
    pub(crate) rows: u8,
    counts: [i32; COUNTS_MAX],
}

/// Why counts cannot be a [`Readings`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReadingsError {
    /// No channel, or more than [`CHANNELS_MAX`].
    Channels,
    /// No row, more counts than [`COUNTS_MAX`], or counts that do not fill the last row.
    Rows,
    /// The time from row to row is 0.
    Interval,
}

impl Readings {
    /// Rows of raw counts, row after row, each with `channels` counts.
    ///
    /// # Errors
    /// [`ReadingsError`] if they are too many, do not fill whole rows, or follow each other in no time.
    pub fn new(
        first_row: u32,
        clock_us: u32,
        interval_us: u32,
        channels: usize,
        rows_of_counts: &[i32],
    ) -> Result<Self, ReadingsError> {
        if channels == 0 || channels > CHANNELS_MAX {
            return Err(ReadingsError::Channels);
        }
        if interval_us == 0 {
            return Err(ReadingsError::Interval);
        }
        let total = rows_of_counts.len();
        if total == 0 || !total.is_multiple_of(channels) {
            return Err(ReadingsError::Rows);
        }
        let mut counts = [0i32; COUNTS_MAX];
        counts.get_mut(..total).ok_or(ReadingsError::Rows)?.copy_from_slice(rows_of_counts);
        let narrow = |n: usize| u8::try_from(n).map_err(|_| ReadingsError::Rows);
        let (channels, rows) = (narrow(channels)?, narrow(total / channels)?);
        Ok(Self { first_row, clock_us, interval_us, channels, rows, counts })
    }

    /// Counts in each row.
    #[must_use]
    pub fn channel_count(&self) -> usize {
        usize::from(self.channels)
    }

    /// Rows in this frame, at least 1.
    #[must_use]
    pub fn row_count(&self) -> usize {
        usize::from(self.rows)
    }

    /// The rows in order, each as a slice of raw counts in the order of the channel table.
    pub fn rows(&self) -> impl ExactSizeIterator<Item = &[i32]> {
        self.counts().chunks_exact(self.channel_count().max(1))
    }

    /// All counts, row after row.
    #[must_use]
    pub fn counts(&self) -> &[i32] {
        self.counts.get(..self.channel_count() * self.row_count()).unwrap_or(&[])
    }
}

impl core::fmt::Debug for Readings {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_struct("Readings")
            .field("first_row", &self.first_row)
            .field("clock_us", &self.clock_us)
            .field("interval_us", &self.interval_us)
            .field("channels", &self.channels)
            .field("counts", &self.counts())
            .finish()
    }
}

/// Who set a mark.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MarkSource {
    /// The button on the box.
    Button,
    /// The person at the recorder; the recorder keeps such a mark in `plow.wire` as a frame of its own.
    Host,
}

/// *mark*: a moment to remember.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mark {
    /// Box clock in µs (the host's clock for [`MarkSource::Host`]); wraps like [`Readings::clock_us`].
    pub clock_us: u32,
    /// Who set it.
    pub source: MarkSource,
    /// Running number of the mark.
    pub number: u16,
}

/// *status*: sent once a second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Status {
    /// Time since power-up in ms; wraps after 49.7 days.
    pub uptime_ms: u32,
    /// Rows that were sampled, and numbered, but never sent because the line was too slow.
    pub rows_dropped: u32,
    /// Supply voltage in mV.
    pub supply_mv: u16,
    /// Temperature of the box in units of 0.01 °C.
    pub temperature_centi_c: i16,
}

/// *time*: the answer to a ping.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Time {
    /// The ping's token.
    pub token: u32,
    /// Box clock when the ping arrived, in µs.
    pub clock_us: u32,
}
