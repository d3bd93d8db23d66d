//! What comes of a port's records: rows, and what happens besides them, one line of `events.csv` each.

use schemars::JsonSchema;
use serde::Serialize;
use strum::{EnumString, IntoStaticStr, VariantArray};

/// Kinds of events in `events.csv`.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, IntoStaticStr, EnumString, VariantArray, Serialize, JsonSchema,
)]
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

    /// What happened, in words: of a run that goes on, or of one that has ended.
    #[must_use]
    pub const fn in_words(self) -> &'static str {
        match self {
            Self::FirstRow => "the first row of the run came",
            Self::Mark => "a mark was set",
            Self::Gap => "rows were lost",
            Self::WithoutReadings => "no reading came for a while",
            Self::Reset => "the sensor box started anew",
            Self::Restart => "the sensor box counts its rows anew",
            Self::PortGone => "the port went away",
            Self::PortBack => "the port was gone and could be opened again",
            Self::Saturated => "a sensor is at the end of its range",
            Self::SaturatedEnd => "a sensor has left the end of its range",
            Self::ChannelsChanged => "the channels of the sensor box changed",
            Self::Refused => "rows were refused",
            Self::NoRows => "no rows come",
            Self::RowsBack => "rows come again",
            Self::ClocksApart => "the box's clock and the computer's ran apart",
            Self::ClockStep => "the computer's clock was set",
            Self::BoxDropped => "the sensor box could not send all rows",
            Self::LineBad => "the line was unusable",
            Self::LineGood => "the line is good again",
            Self::NotKept => "bytes could not be kept",
            Self::NewFolder => "the run goes on in another folder",
            Self::NoFix => "no fix",
            Self::FixBack => "a fix again",
            Self::GnssTimeStep => "the GNSS receiver's time of day stepped",
            Self::Ended => "the run ended",
        }
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

impl RunEvent {
    /// What happened, for whoever is in the field: of its details those that a person knows what to do with.
    #[must_use]
    pub fn in_words(&self) -> String {
        let what = self.kind.in_words();
        let pairs = || self.detail.split("; ").filter_map(|pair| pair.split_once('='));
        let of = |key: &str| pairs().find(|(name, _)| *name == key).map(|(_, value)| value);
        let seconds = |key: &str| of(key).and_then(|value| value.parse::<f64>().ok());
        let told = match self.kind {
            EventKind::Mark if of("by") == Some("button") => Some("a mark was set at the box".to_owned()),
            EventKind::Gap => of("rows").map(|rows| format!("{rows} rows were lost")),
            EventKind::Refused => of("rows").map(|rows| format!("{rows} rows were refused")),
            EventKind::BoxDropped => {
                of("rows").map(|rows| format!("the sensor box could not send {rows} rows"))
            }
            EventKind::NotKept => of("bytes").map(|bytes| format!("{bytes} bytes could not be kept")),
            EventKind::Saturated | EventKind::SaturatedEnd => {
                of("column").map(|column| format!("{what}: {column}"))
            }
            EventKind::WithoutReadings => seconds("lasted_s").map(|s| format!("{s:.1} s without readings")),
            EventKind::RowsBack | EventKind::FixBack => {
                seconds("lasted_s").map(|s| format!("{what}, after {s:.1} s"))
            }
            EventKind::ClockStep | EventKind::GnssTimeStep => {
                seconds("step_s").map(|s| format!("{what}: by {s:+.1} s"))
            }
            EventKind::PortGone | EventKind::ChannelsChanged | EventKind::NoRows | EventKind::NoFix => {
                Some(format!("{what}: {}", self.detail)).filter(|_| !self.detail.is_empty())
            }
            _ => None,
        };
        told.unwrap_or_else(|| what.to_owned())
    }
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

    #[test]
    fn what_happened_is_told_in_words_whatever_the_details_are() {
        let said = |kind, detail: &str| RunEvent { t_us: 0, kind, detail: detail.to_owned() }.in_words();
        for kind in EventKind::ALL {
            for detail in
                ["", "=", "rows=", "lasted_s=x; by", "number=1; rows=2; lasted_s=3.25; step_s=-1; bytes=9"]
            {
                let words = said(*kind, detail);
                assert!(
                    !words.contains("_s=") || words.contains(&format!(": {detail}")),
                    "{kind:?}: {words}"
                );
            }
        }
        assert_eq!(said(EventKind::WithoutReadings, "lasted_s=30.325"), "30.3 s without readings");
        assert_eq!(said(EventKind::Gap, "rows=12; lasted_s=0.060000"), "12 rows were lost");
        assert_eq!(said(EventKind::Mark, "number=2; by=host"), "a mark was set");
        assert_eq!(said(EventKind::PortGone, "hung up"), "the port went away: hung up");
        assert_eq!(
            said(EventKind::ClockStep, "step_s=-3600.000"),
            "the computer's clock was set: by -3600.0 s"
        );
    }
}
