//! What is to be told of a run's recording and readings before any figure is.

use ingest::assemble::EventKind;
use ingest::plow::{ChannelRole, Plow};
use ingest::quantity::{Force, Length, SpringRate};
use signals::run::{Notice, Run};
use signals::{Segment, Signals, WorkingPart, slices};
use statics::contradiction::TableReadings;

/// Events that are reported, in this order.
const REPORTED: [EventKind; 5] =
    [EventKind::PortBack, EventKind::Reset, EventKind::LineBad, EventKind::NotKept, EventKind::ClocksApart];
/// Share of rows outside the load table from which it is reported.
const OUTSIDE_SHARE_REPORTED: f64 = 0.01;
/// Noise and play at an end of the table are no readings outside it: this share of what it spans.
const WITHIN_SHARE: f64 = 0.05;

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
    let wheel = plow.tail.wheel()?;
    let ends_m = wheel.load_table.ends_m();
    let deflection = slices(signals.channels.get(&ChannelRole::Tail)?, segments);
    let rows: usize = deflection.iter().map(|slice| slice.len()).sum();
    let mean = |of: &dyn Fn(f64) -> f64| {
        deflection.iter().flat_map(|slice| *slice).map(|mm| of(mm / 1000.0)).sum::<f64>() / rows.max(1) as f64
    };
    let slack_m = WITHIN_SHARE * (ends_m.1 - ends_m.0);
    let mean_m = mean(&|m| m);
    Some(TableReadings {
        below_share: mean(&|m| f64::from(m < ends_m.0 - slack_m)),
        beyond_share: mean(&|m| f64::from(m > ends_m.1 + slack_m)),
        mean: Length::from_m(mean_m),
        ends: (Length::from_m(ends_m.0), Length::from_m(ends_m.1)),
        rate: SpringRate::from_n_per_m(wheel.load_table.rate_n_per_m(mean_m)),
        reversed_load: Force::from_n(mean(&|m| wheel.load_table.load_n(-m))),
    })
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
