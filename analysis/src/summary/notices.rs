//! What is to be told of a run's recording and readings before any figure is.

use super::analyse::slices;
use crate::run::Run;
use crate::signals::{Segment, Signals, WorkingPart};
use ingest::assemble::EventKind;
use ingest::plow::{ChannelRole, Plow};

/// What the recorder wrote down of cables, boxes and lines.
pub(super) fn recorder_notices(run: &Run) -> Vec<String> {
    let tell = [
        (EventKind::PortBack, "the cable or port was gone and came back"),
        (EventKind::Reset, "the sensor box started anew"),
        (EventKind::LineBad, "the line was unusable"),
        (EventKind::NotKept, "bytes could not be kept"),
        (EventKind::ClocksApart, "the box's clock and the computer's ran apart"),
    ];
    let mut notices = Vec::new();
    for (kind, what) in tell {
        match run.count(kind) {
            0 => {}
            1 => notices.push(format!("{what} once during the recording")),
            times => notices.push(format!("{what} {times} times during the recording")),
        }
    }
    notices
}

/// A file with several passes is a file with one run too many: only the longest is the run.
pub(super) fn left_out(others: &[WorkingPart]) -> Option<String> {
    let times: Vec<String> =
        others.iter().map(|part| format!("{:.0} to {:.0} s", part.from_s, part.to_s)).collect();
    let times = match times.as_slice() {
        [] => return None,
        [one] => one.clone(),
        [first, .., last] => format!("{first}, …, {last}"),
    };
    let count = others.len();
    Some(format!(
        "the plow was in the ground {count} more time{} ({times}) and only the longest pass is analyzed: \
         record each pass as a run of its own",
        if count == 1 { "" } else { "s" }
    ))
}

/// Share of rows beyond the last line of the load table from which it is told.
const BEYOND_SHARE_TOLD: f64 = 0.01;

/// Where the spring gave more than the table knows, the load is a guess along its last straight line.
pub(super) fn beyond_the_table(plow: &Plow, signals: &Signals, segments: &[Segment]) -> Option<String> {
    let last_mm =
        plow.tail_wheel.as_ref()?.load_table.last().map(|(deflection, _)| deflection.m() * 1000.0)?;
    let deflection = slices(signals.channels.get(&ChannelRole::Tail)?, segments);
    let rows: usize = deflection.iter().map(|slice| slice.len()).sum();
    let beyond = deflection.iter().flat_map(|slice| *slice).filter(|mm| **mm > last_mm).count();
    let share = beyond as f64 / rows.max(1) as f64;
    (share > BEYOND_SHARE_TOLD).then(|| {
        format!(
            "the tail wheel's spring gave more than the {last_mm:.0} mm that its load table ends at for \
             {:.0} % of the time: measure the table further, the loads there are extended along its last line",
            100.0 * share
        )
    })
}
