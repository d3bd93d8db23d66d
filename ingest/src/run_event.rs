//! What happens in a run besides its rows: one line of `events.csv` each.

/// Kinds of events in `events.csv`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EventKind {
    /// The first row of the run: its number in the box.
    FirstRow,
    /// A mark, by the button on the box or at the host.
    Mark,
    /// Rows that the box sampled and that never came. Its time is that of the row before.
    Gap,
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
    pub const ALL: [Self; 21] = [
        Self::FirstRow,
        Self::Mark,
        Self::Gap,
        Self::Reset,
        Self::Restart,
        Self::PortGone,
        Self::PortBack,
        Self::Saturated,
        Self::SaturatedEnd,
        Self::ChannelsChanged,
        Self::Refused,
        Self::ClocksApart,
        Self::ClockStep,
        Self::BoxDropped,
        Self::LineBad,
        Self::LineGood,
        Self::NotKept,
        Self::NoFix,
        Self::FixBack,
        Self::GnssTimeStep,
        Self::Ended,
    ];

    /// As in the column `kind`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::FirstRow => "first-row",
            Self::Mark => "mark",
            Self::Gap => "gap",
            Self::Reset => "reset",
            Self::Restart => "restart",
            Self::PortGone => "port-gone",
            Self::PortBack => "port-back",
            Self::Saturated => "saturated",
            Self::SaturatedEnd => "saturated-end",
            Self::ChannelsChanged => "channels-changed",
            Self::Refused => "refused",
            Self::ClocksApart => "clocks-apart",
            Self::ClockStep => "clock-step",
            Self::BoxDropped => "box-dropped",
            Self::LineBad => "line-bad",
            Self::LineGood => "line-good",
            Self::NotKept => "not-kept",
            Self::NoFix => "no-fix",
            Self::FixBack => "fix-back",
            Self::GnssTimeStep => "gnss-time-step",
            Self::Ended => "ended",
        }
    }

    /// The kind of this name.
    #[must_use]
    pub fn of_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }

    /// Whether readings before and after it must not be joined.
    #[must_use]
    pub const fn parts_readings(self) -> bool {
        matches!(self, Self::Gap | Self::Reset | Self::Restart | Self::Refused)
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_kind_has_a_name_of_its_own() {
        for kind in EventKind::ALL {
            assert_eq!(EventKind::of_name(kind.name()), Some(kind));
        }
    }
}
