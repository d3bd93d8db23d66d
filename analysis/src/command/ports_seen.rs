//! What `ports` found, as its text and its JSON have it.

use ingest::discovery::SampleStatistics;
use ingest::plow::ChannelRole;
use serde::Serialize;

/// One port.
#[derive(Debug, Serialize)]
pub(super) struct PortSeen {
    pub port: String,
    /// What the system says is plugged in there.
    pub device: Option<String>,
    pub state: State,
    /// The same in words, for what is no box.
    pub says: Option<String>,
    #[serde(rename = "box")]
    pub seen: Option<BoxSeen>,
}

/// What a port is, in one word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
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
#[derive(Debug, Serialize)]
pub(super) struct BoxSeen {
    pub name: String,
    pub serial: String,
    pub firmware: String,
    pub protocol: String,
    /// Whether it sends binary frames or prints sentences.
    pub form: &'static str,
    pub boot: u32,
    pub row_rate_hz: f64,
    pub rows: usize,
    pub rows_lost: u64,
    pub frames_damaged: u64,
    pub supply_v: Option<f64>,
    pub temperature_c: Option<f64>,
    pub channels: Vec<ChannelSeen>,
    /// Why it does not fit the plow description.
    pub unfit: Option<String>,
}

/// One channel of a box.
#[derive(Debug, Serialize)]
pub(super) struct ChannelSeen {
    pub name: String,
    pub kind: &'static str,
    pub adc_bits: u8,
    pub rate_hz: f64,
    /// Raw counts of the rows that came; null if none came.
    pub counts: Option<SampleStatistics>,
    /// With a plow description: the column that the channel fills, and its readings in the column's unit.
    pub column: Option<&'static str>,
    pub readings: Option<SampleStatistics>,
    #[serde(skip)]
    pub role: Option<ChannelRole>,
}
