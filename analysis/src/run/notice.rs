//! What is to be told of a run's recording and readings before any figure is.

use super::missing::MissingRows;
use ingest::assemble::EventKind;
use ingest::open_run::OpenNotice;
use ingest::plow::ChannelRole;
use serde::Serialize;
use std::path::PathBuf;

/// One thing that is not as it should be.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Notice {
    /// Rows of the working part were recorded and are not in the file: the working part is in pieces, and nobody
    /// knows what the plow did there.
    WorkingPartTorn {
        /// How long they lasted, s.
        missing_s: f64,
        /// The same over the working part.
        share: f64,
    },
    /// A file of the run is not whole.
    NotWhole {
        /// Which, and what of it was left out.
        what: OpenNotice,
    },
    /// A box of several never sent a whole row.
    NoRows {
        /// Its file.
        path: PathBuf,
        /// Whether the file has a header.
        header_only: bool,
    },
    /// A table holds fewer rows than were recorded.
    MissingRows(MissingRows),
    /// A column is in a box's file and in another one before it, which is used.
    Doubled {
        /// What it measures.
        channel: ChannelRole,
        /// The file.
        path: PathBuf,
        /// The file of the one that is used.
        used: PathBuf,
    },
    /// The description does not say on what the tail wheel runs: the furrow is taken.
    RunsInNotStated,
    /// A channel that says nothing of this plow is left out.
    CannotUse {
        /// What it measures.
        channel: ChannelRole,
    },
    /// The GNSS receiver never had a fix.
    NeverAFix {
        /// Its file.
        path: PathBuf,
    },
    /// A box whose clock runs apart from the others' is left out.
    BoxApart {
        /// Its file, without the ending.
        file: String,
        /// Its name.
        name: String,
        /// What it measured.
        channels: Vec<ChannelRole>,
    },
    /// The receiver is left out: the box's clock runs apart from the computer's.
    ReceiverApart,
    /// What the recorder wrote down of cables, boxes and lines.
    Happened {
        /// Which event.
        event: EventKind,
        /// How often.
        times: usize,
    },
    /// Gaps in the working part.
    Gaps {
        /// How many.
        gaps: usize,
        /// Share of the working part without a row.
        missing_share: f64,
    },
    /// A channel of a box of its own is missing for part of the working part.
    ChannelMissing {
        /// What it measures.
        channel: ChannelRole,
        /// For how long, s.
        missing_s: f64,
    },
    /// A channel did not move.
    Stuck {
        /// What it measures.
        channel: ChannelRole,
        /// For how long, s.
        still_s: f64,
    },
    /// A channel was at an end of its converter.
    AtEndOfRange {
        /// What it measures.
        channel: ChannelRole,
        /// For what share of the time.
        share: f64,
    },
    /// Single readings of the working part jumped away and back, and were taken out.
    Spikes {
        /// What the channel measures.
        channel: ChannelRole,
        /// How many.
        spikes: usize,
    },
    /// The plow was in the ground more than once; only the longest pass is the run.
    PassesLeftOut {
        /// Start and end of the others, s of run time.
        passes_s: Vec<(f64, f64)>,
    },
    /// No sensor measured the pull: it is the sum of the forces in the links.
    PullFromLinks,
    /// The tail's spring read below the start of its load table, where the load is none.
    BelowLoadTable {
        /// Where the table starts, m.
        starts_m: f64,
        /// For what share of the time.
        share: f64,
    },
    /// It gave more than the end of its load table, where the load is extended along the last line.
    BeyondLoadTable {
        /// Where the table ends, m.
        ends_m: f64,
        /// For what share of the time.
        share: f64,
    },
    /// The speed was not known for part of the working part.
    SpeedMissing {
        /// What should have told it.
        from: SpeedFrom,
        /// For how long, s.
        missing_s: f64,
    },
    /// The way by the speed is not that between the places of the GNSS receiver.
    WaysApart {
        /// What told the speed.
        from: SpeedFrom,
        /// Way by the speed, m.
        by_speed_m: f64,
        /// Way by the places, m.
        by_places_m: f64,
    },
}

/// Where a speed comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum SpeedFrom {
    /// The speed channel of a sensor box.
    #[serde(rename = "speed_mps")]
    Channel,
    /// The fixes of a GNSS receiver.
    #[serde(rename = "gnss.csv")]
    Gnss,
}
