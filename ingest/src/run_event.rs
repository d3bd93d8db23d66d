//! What comes of a port's records: rows, and what happens besides them, one line of `events.csv` each.

use serde::Serialize;
use strum::{EnumString, IntoStaticStr, VariantArray};

/// Kinds of events in `events.csv`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, IntoStaticStr, EnumString, VariantArray, Serialize)]
#[serde(rename_all = "kebab-case")]
#[strum(serialize_all = "kebab-case")]
pub enum EventKind {
    /// The first row of the run: its number in the box.
    FirstRow,
    /// A mark, by the button on the box or at the host.
    Mark,
    /// Rows that the box sampled and that never came. Its time is that of the row before.
    Gap,
    /// No row came for so long, and row numbers count none as lost for it: the box was without power or halted, or its
    /// cable was out to the end. Its time is that of the row before.
    WithoutReadings,
    /// The box booted in mid-run: readings before and after are not joined.
    Reset,
    /// Row numbers fell back, or row number and clock do not fit together, with no boot seen.
    Restart,
    /// The port went away.
    PortGone,
    /// The port is there again.
    PortBack,
    /// A channel is at an end of its converter.
    Saturated,
    /// It has left the end again.
    SaturatedEnd,
    /// The box says that its channels are others than at the start.
    ChannelsChanged,
    /// Rows that make no sense for the channels that the box says it has; not written.
    Refused,
    /// The box answers, but no row that could be written has come for a while: why, as far as it is known.
    NoRows,
    /// Rows come again, after so long.
    RowsBack,
    /// Box clock and host clock run apart: run time follows the box clock alone.
    ClocksApart,
    /// The host's wall clock stepped.
    ClockStep,
    /// The box says that it could not send rows that it had sampled; they are in a gap, too.
    BoxDropped,
    /// More damaged than good frames: the line is unusable.
    LineBad,
    /// The line is good again.
    LineGood,
    /// Bytes that came but could not be kept because the disk was full or too slow.
    NotKept,
    /// The run folder was deleted or moved away: the run is in this one, whole from its beginning.
    NewFolder,
    /// The GNSS receiver has no fix from here on.
    NoFix,
    /// It has one again.
    FixBack,
    /// The GNSS receiver's time of day stepped; run time did not.
    GnssTimeStep,
    /// The run ended.
    Ended,
}

impl EventKind {
    /// All kinds.
    pub const ALL: &'static [Self] = Self::VARIANTS;

    /// As in the column `kind`.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.into()
    }
}

/// How a run came to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, strum::Display)]
pub enum RunEnd {
    /// Ctrl-C, or another signal that asks a program to end.
    #[strum(to_string = "stopped by {0}")]
    Signal(&'static str),
    /// It lasted as long as it should.
    #[strum(to_string = "the duration asked for was over")]
    Duration,
    /// The plow came out of the ground.
    #[strum(to_string = "the plow came out of the ground")]
    OutOfGround,
    /// All ports were away for as long as was allowed.
    #[strum(to_string = "the ports stayed away")]
    PortsGone,
    /// The boxes can no longer be recorded with this plow (another program in them, or other channels).
    #[strum(to_string = "the boxes changed and no longer fit the plow description")]
    BoxesChanged,
}

/// One event.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunEvent {
    /// Run time in µs.
    pub t_us: u64,
    /// What kind.
    pub kind: EventKind,
    /// More about it: `key=value` pairs with "; " between them, or a few words.
    pub detail: String,
}

/// A row of a box or of a receiver, or an event.
#[derive(Clone, Debug, PartialEq)]
pub enum Item<R> {
    /// A row.
    Row(R),
    /// An event.
    Event(RunEvent),
}

impl<R> Item<R> {
    /// The rows and the events among the items.
    pub(crate) fn split(items: Vec<Self>) -> (Vec<R>, Vec<RunEvent>) {
        let (mut rows, mut events) = (Vec::new(), Vec::new());
        for item in items {
            match item {
                Self::Row(row) => rows.push(row),
                Self::Event(event) => events.push(event),
            }
        }
        (rows, events)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_kind_has_a_name_of_its_own() {
        for kind in EventKind::ALL {
            assert_eq!(kind.name().parse(), Ok(*kind));
        }
    }
}
