//! What is to be told of a run's recording and readings before any figure is.

use super::missing::MissingRows;
use ingest::assemble::EventKind;
use ingest::open_run::OpenNotice;
use ingest::plow::ChannelRole;
use schemars::JsonSchema;
use serde::Serialize;
use std::path::PathBuf;

/// One thing that is not as it should be.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum Notice {
    /// The recorder took the setting by itself: nobody had said that the hitch was in it.
    SettingAssumed { setting: String },
    /// Rows of the working part were recorded and are not in the file: the working part is in pieces, and nobody
    /// knows what the plow did there. `share` is of the working part's length.
    WorkingPartTorn { missing_s: f64, share: f64 },
    /// A file of the run is not whole.
    NotWhole { what: OpenNotice },
    /// A box of several never sent a whole row.
    NoRows { path: PathBuf, header_only: bool },
    /// A table holds fewer rows than were recorded.
    MissingRows(MissingRows),
    /// A column is in a box's file and in one before it, `used`.
    Doubled { channel: ChannelRole, path: PathBuf, used: PathBuf },
    /// The same of a column of the user's own.
    OwnDoubled { column: String, path: PathBuf, used: PathBuf },
    /// The description does not say on what the tail wheel runs: the furrow is taken.
    RunsInNotStated,
    /// A channel that says nothing of this plow is left out.
    CannotUse { channel: ChannelRole },
    /// The GNSS receiver never had a fix.
    NeverAFix { path: PathBuf },
    /// There should have been a GNSS receiver, and nothing came from it.
    NoReceiver { path: PathBuf },
    /// A box whose clock runs apart from the others' is left out.
    BoxApart { file: String, name: String, channels: Vec<ChannelRole> },
    /// The user's own columns of a box are left out: its clock runs apart from that of the channels.
    OwnApart { file: String, name: String, columns: Vec<String> },
    /// The receiver is left out: the box's clock runs apart from the computer's.
    ReceiverApart,
    /// What the recorder wrote down of cables, boxes and lines.
    Happened { event: EventKind, times: usize },
    /// Gaps in the working part.
    Gaps { gaps: usize, missing_share: f64 },
    /// A channel of a box of its own is missing for part of the working part.
    ChannelMissing { channel: ChannelRole, missing_s: f64 },
    /// A channel did not move.
    Stuck { channel: ChannelRole, still_s: f64 },
    /// A channel was at an end of its converter.
    AtEndOfRange { channel: ChannelRole, share: f64 },
    /// Single readings of the working part jumped away and back, and were taken out.
    Spikes { channel: ChannelRole, spikes: usize },
    /// The plow was in the ground more than once; only the longest pass is the run. Start and end of the others.
    PassesLeftOut { passes_s: Vec<(f64, f64)> },
    /// No sensor measured the pull: it is the sum of the forces in the links.
    PullFromLinks,
    /// The tail's spring read below the start of its load table, where the load is none, for this share of the time.
    BelowLoadTable { starts_m: f64, share: f64 },
    /// It gave more than the end of its load table, where the load is extended along the last line.
    BeyondLoadTable { ends_m: f64, share: f64 },
    /// The speed was not known for part of the working part.
    SpeedMissing { from: SpeedFrom, missing_s: f64 },
    /// The way by the speed is not that between the places of the GNSS receiver.
    WaysApart { from: SpeedFrom, by_speed_m: f64, by_places_m: f64 },
}

/// Where a speed comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub enum SpeedFrom {
    /// The speed channel of a sensor box.
    #[serde(rename = "speed_mps")]
    Channel,
    /// The fixes of a GNSS receiver.
    #[serde(rename = "gnss.csv")]
    Gnss,
}
