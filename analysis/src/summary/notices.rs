//! What is to be told of a run's recording and readings before any figure is.

use ingest::assemble::EventKind;
use ingest::plow::{ChannelRole, Plow};
use signals::run::{Notice, Run};
use signals::{Segment, Signals, WorkingPart, slices};
use statics::contradiction::{TableReadings, TableTally};

/// Events that are reported, in this order.
const REPORTED: [EventKind; 6] = [
    EventKind::PortBack,
    EventKind::Reset,
    EventKind::WithoutReadings,
    EventKind::LineBad,
    EventKind::NotKept,
    EventKind::ClocksApart,
];
/// Share of rows outside the load table from which it is reported.
const OUTSIDE_SHARE_REPORTED: f64 = 0.01;

/// What the recorder wrote down of cables, boxes and lines.
pub(super) fn recorder_notices(run: &Run) -> impl Iterator<Item = Notice> {
    let happened = REPORTED.into_iter().map(|event| (event, run.count(event)));
    happened.filter(|(_, times)| *times > 0).map(|(event, times)| Notice::Happened { event, times })
}

/// The working part is in pieces because rows were lost from the file.
pub(super) fn torn(holes_s: &[(f64, f64)], part: WorkingPart) -> Option<Notice> {
    let unseen = holes_s.iter().map(|(from, to)| to.min(part.to_s) - from.max(part.from_s));
    let missing_s: f64 = unseen.filter(|unseen_s| *unseen_s > 0.0).sum();
    let share = missing_s / (part.to_s - part.from_s);
    (missing_s > 0.0).then_some(Notice::WorkingPartTorn { missing_s, share })
}

/// A file with several passes is a file with one run too many: only the longest is the run.
pub(super) fn left_out(others: &[WorkingPart]) -> Option<Notice> {
    let passes_s: Vec<(f64, f64)> = others.iter().map(|part| (part.from_s, part.to_s)).collect();
    (!passes_s.is_empty()).then_some(Notice::PassesLeftOut { passes_s })
}

/// The readings of the tail's spring against its load table; `None` without a table or readings.
pub(super) fn table_readings(plow: &Plow, signals: &Signals, segments: &[Segment]) -> Option<TableReadings> {
    let table = &plow.tail.wheel()?.load_table;
    let deflection = slices(signals.channels.get(&ChannelRole::Tail)?, segments);
    let mut tally = TableTally::default();
    deflection.iter().flat_map(|slice| *slice).for_each(|mm| tally.take(table, *mm));
    Some(tally.of_table(table))
}

/// Where the spring gave less or more than the table knows, the load is none, or a guess along its last straight
/// line.
pub(super) fn outside_the_table(table: &TableReadings) -> Option<Notice> {
    let TableReadings { below_share, beyond_share, ends: (starts, ends), .. } = *table;
    if below_share > OUTSIDE_SHARE_REPORTED {
        return Some(Notice::BelowLoadTable { starts_m: starts.m(), share: below_share });
    }
    (beyond_share > OUTSIDE_SHARE_REPORTED)
        .then_some(Notice::BeyondLoadTable { ends_m: ends.m(), share: beyond_share })
}
