//! *hello*: who the box is and what its channels are.

use crate::{CHANNELS_MAX, Channel, Label, LabelError, VERSION_MAJOR, VERSION_MINOR};

/// *hello*: sent at power-up, once a second until *start*, and in answer to each *start*.
///
/// Its layout is the same in every major version, so that a box of another one can be refused by name.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Hello {
    /// Protocol version (major, minor) that the box speaks; the decoder hands over any.
    pub version: (u8, u8),
    /// Boot counter, kept over power-off by the box: a new number says that clock and row numbers start anew.
    pub boot: u32,
    /// Firmware version of the box (major, minor, patch).
    pub firmware: (u8, u8, u8),
    /// Rows per 1000 s (mHz), never 0.
    pub row_rate_mhz: u32,
    /// Serial number, up to 16 bytes.
    pub serial: Label<16>,
    /// The box's name, up to 24 bytes.
    pub name: Label<24>,
    channels: [Channel; CHANNELS_MAX],
    pub(crate) channel_count: u8,
}

impl Hello {
    /// A hello of this crate's protocol version.
    ///
    /// Returns `None` for what a receiver would refuse: see [`HelloError`].
    ///
    /// ```
    /// use firmware_protocol::{Channel, ChannelKind, Hello, Label};
    ///
    /// let pull = Channel { name: Label::new("pull")?, kind: ChannelKind::Pull, adc_bits: 24, rate_mhz: 200_000 };
    /// let (serial, name) = (Label::new("SB-0042")?, Label::new("red plow")?);
    /// // The first boot of firmware 1.2.0, 200 rows a second.
    /// let hello = Hello::new(1, (1, 2, 0), 200_000, serial, name, &[pull]).unwrap();
    /// assert_eq!(hello.channels(), [pull]);
    /// assert_eq!(Hello::new(1, (1, 2, 0), 200_000, serial, name, &[pull, pull]), None, "one name twice");
    /// # Ok::<(), firmware_protocol::LabelError>(())
    /// ```
    #[must_use]
    pub fn new(
        boot: u32,
        firmware: (u8, u8, u8),
        row_rate_mhz: u32,
        serial: Label<16>,
        name: Label<24>,
        table: &[Channel],
    ) -> Option<Self> {
        Self::bare(boot, firmware, row_rate_mhz, serial, name).with_table(table).ok()
    }

    /// A hello still without its channel table.
    pub(crate) fn bare(
        boot: u32,
        firmware: (u8, u8, u8),
        row_rate_mhz: u32,
        serial: Label<16>,
        name: Label<24>,
    ) -> Self {
        let version = (VERSION_MAJOR, VERSION_MINOR);
        let channels = [Channel::default(); CHANNELS_MAX];
        Self { version, boot, firmware, row_rate_mhz, serial, name, channels, channel_count: 0 }
    }

    /// This hello with its channel table, if the whole is one that makes sense.
    pub(crate) fn with_table(mut self, table: &[Channel]) -> Result<Self, HelloError> {
        let count = u8::try_from(table.len()).unwrap_or(u8::MAX);
        let room = self.channels.get_mut(..table.len()).filter(|room| !room.is_empty());
        room.ok_or(HelloError::ChannelCount { count })?.copy_from_slice(table);
        self.channel_count = count;
        if self.row_rate_mhz == 0 {
            return Err(HelloError::RowRateZero);
        }
        for (index, channel) in (0u8..).zip(table) {
            if channel.name.as_bytes().is_empty() {
                return Err(HelloError::ChannelName { index });
            }
            if table.iter().take(usize::from(index)).any(|earlier| earlier.name == channel.name) {
                return Err(HelloError::SameChannelName { index });
            }
            if !(1..=32).contains(&channel.adc_bits) {
                return Err(HelloError::AdcBits { index, bits: channel.adc_bits });
            }
            if channel.rate_mhz == 0 {
                return Err(HelloError::ChannelRateZero { index });
            }
        }
        Ok(self)
    }

    /// The channel table, in the order of the counts in each row: 1 to [`CHANNELS_MAX`] lines.
    #[must_use]
    pub fn channels(&self) -> &[Channel] {
        self.channels.get(..usize::from(self.channel_count)).unwrap_or(&[])
    }
}

impl core::fmt::Debug for Hello {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.debug_struct("Hello")
            .field("version", &self.version)
            .field("boot", &self.boot)
            .field("firmware", &self.firmware)
            .field("row_rate_mhz", &self.row_rate_mhz)
            .field("serial", &self.serial)
            .field("name", &self.name)
            .field("channels", &self.channels())
            .finish()
    }
}

/// What makes no sense in a hello whose CRC is good: an error in the box's program, to be said as such. `index` is
/// a channel's place in the table, from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "names of fields say what they are")]
pub enum HelloError {
    /// No channel, or more than [`CHANNELS_MAX`].
    ChannelCount { count: u8 },
    /// The box says that it sends no rows.
    RowRateZero,
    /// Serial number or box name is longer than it may be or not printable ASCII.
    BoxLabel(LabelError),
    /// The name of a channel is empty, longer than it may be, or not printable ASCII.
    ChannelName { index: u8 },
    /// A channel has the name of one before it.
    SameChannelName { index: u8 },
    /// A resolution outside 1 to 32 bits.
    AdcBits { index: u8, bits: u8 },
    /// A channel that never has a new value.
    ChannelRateZero { index: u8 },
    /// Fewer or more bytes than its labels and its channel count ask for.
    Length,
}

impl core::fmt::Display for HelloError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::ChannelCount { count } => write!(f, "{count} channels (1 to {CHANNELS_MAX} are possible)"),
            Self::RowRateZero => f.write_str("row rate 0"),
            Self::BoxLabel(error) => write!(f, "serial number or name of the box: {error}"),
            Self::ChannelName { index } => {
                write!(f, "name of channel {index} (1 to 12 printable ASCII characters are possible)")
            }
            Self::SameChannelName { index } => write!(f, "name of channel {index} is not its own"),
            Self::AdcBits { index, bits } => {
                write!(f, "{bits} converter bits of channel {index} (1 to 32 are possible)")
            }
            Self::ChannelRateZero { index } => write!(f, "rate 0 of channel {index}"),
            Self::Length => f.write_str("length does not fit its labels and channels"),
        }
    }
}

impl core::error::Error for HelloError {}
