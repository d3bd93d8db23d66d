//! What is to be told of a run's recording and readings before any figure is.

use super::load_spectrum::slices;
use ingest::assemble::EventKind;
use ingest::plow::{ChannelRole, Plow};
use ingest::quantity::{Force, Length, SpringRate};
use signals::run::Run;
use signals::{Segment, Signals, WorkingPart};
use statics::contradiction::TableReadings;

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

/// The working part is in pieces because rows were lost from the file: nobody knows what the plow did there.
pub(super) fn torn(holes_s: &[(f64, f64)], part: WorkingPart) -> Option<String> {
    let unseen_s: Vec<f64> = holes_s
        .iter()
        .map(|(from, to)| to.min(part.to_s) - from.max(part.from_s))
        .filter(|unseen_s| *unseen_s > 0.0)
        .collect();
    let all_s: f64 = unseen_s.iter().sum();
    (!unseen_s.is_empty()).then(|| {
        format!(
            "ROWS ARE MISSING FROM THE WORKING PART: {all_s:.2} s of it ({:.1} %) were recorded and are not in the \
             file; the rest is taken for one pass, and nothing is put in their place",
            100.0 * all_s / (part.to_s - part.from_s)
        )
    })
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

/// A pull that no sensor measured is said to be worked out.
pub(super) fn pull_of_links(pull_from_links: bool) -> Option<String> {
    pull_from_links.then(|| {
        "the pull is worked out from the lower links and top link channels, by the slopes of the links as they were measured"
            .to_owned()
    })
}

/// Share of rows outside the load table from which it is told.
const OUTSIDE_SHARE_TOLD: f64 = 0.01;

/// Noise and play at an end of the table are no readings outside it: this share of what it spans.
const WITHIN_SHARE: f64 = 0.05;

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
        ends: (Length::from_m((ends_m).0), Length::from_m((ends_m).1)),
        rate: SpringRate::from_n_per_m(wheel.load_table.rate_n_per_m(mean_m)),
        reversed_load: Force::from_n(mean(&|m| wheel.load_table.load_n(-m))),
    })
}

/// Where the spring gave less or more than the table knows, the load is none, or a guess along its last straight
/// line.
pub(super) fn outside_the_table(plow: &Plow, signals: &Signals, segments: &[Segment]) -> Option<String> {
    let table = table_readings(plow, signals, segments)?;
    let (first_mm, last_mm) = (1000.0 * table.ends.0.m(), 1000.0 * table.ends.1.m());
    if table.below_share > OUTSIDE_SHARE_TOLD {
        return Some(format!(
            "the tail wheel's sensor read below the {first_mm:.0} mm that its load table starts at for {:.0} % of \
             the time: check its sign and its zero, the loads there are told as none",
            100.0 * table.below_share
        ));
    }
    (table.beyond_share > OUTSIDE_SHARE_TOLD).then(|| {
        format!(
            "the tail wheel's spring gave more than the {last_mm:.0} mm that its load table ends at for \
             {:.0} % of the time: measure the table further, the loads there are extended along its last line",
            100.0 * table.beyond_share
        )
    })
}
