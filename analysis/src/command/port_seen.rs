//! What `ports --json` prints.

use ingest::assemble::Fills;
use ingest::discovery::SampleStatistics;
use schemars::JsonSchema;
use serde::Serialize;

/// One port.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct PortSeen {
    /// Its name.
    pub(super) port: String,
    /// What the system says is plugged in there.
    pub(super) device: Option<String>,
    /// What is on it.
    pub(super) state: State,
    /// The same in words, for what is no box.
    pub(super) says: Option<String>,
    /// The box, if it is one.
    #[serde(rename = "box")]
    pub(super) seen: Option<BoxSeen>,
}

/// What a port is, in one word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub(super) enum State {
    Box,
    /// A box that this program cannot use.
    Refused,
    NoHello,
    GnssReceiver,
    /// Bytes, but nothing of a box.
    Other,
    Silent,
    Busy,
    NotPermitted,
    /// Not there, no port, or gone while it was looked at.
    Failed,
}

/// A box.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct BoxSeen {
    /// Its name.
    pub(super) name: String,
    /// Its serial number.
    pub(super) serial: String,
    /// Version of its firmware.
    pub(super) firmware: String,
    /// Version of the protocol that it speaks.
    pub(super) protocol: String,
    /// Whether it sends binary frames or prints sentences.
    pub(super) form: &'static str,
    /// Its boot number.
    pub(super) boot: u32,
    /// Rows per second that it says it sends.
    pub(super) row_rate_hz: f64,
    /// Rows that came while it was looked at.
    pub(super) rows: usize,
    /// Rows that it sampled and that did not come.
    pub(super) rows_lost: u64,
    /// Frames that came damaged.
    pub(super) frames_damaged: u64,
    /// Its supply, V; null where it does not say.
    pub(super) supply_v: Option<f64>,
    /// Its temperature, °C; null where it does not say.
    pub(super) temperature_c: Option<f64>,
    /// Its channels.
    pub(super) channels: Vec<ChannelSeen>,
    /// Why it does not fit the plow description.
    pub(super) unfit: Option<String>,
}

/// One channel of a box.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct ChannelSeen {
    /// Its name in the box.
    pub(super) name: String,
    /// What the box says that it measures.
    pub(super) kind: &'static str,
    /// Bits of its converter.
    pub(super) adc_bits: u8,
    /// New values per second.
    pub(super) rate_hz: f64,
    /// Raw counts of the rows that came; null if none came.
    pub(super) counts: Option<SampleStatistics>,
    /// With a plow description: the column that the channel fills.
    pub(super) column: Option<String>,
    /// Unit of that column.
    pub(super) unit: Option<String>,
    /// Its readings in the column's unit.
    pub(super) readings: Option<SampleStatistics>,
    #[serde(skip)]
    pub(super) fills: Option<Fills>,
}
