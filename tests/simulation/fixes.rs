//! Holds `gnss.csv` against what the receiver knows.

use held::run_folder::{Table, Written};

use crate::plan::{Plan, ReceiverFault, ReceiverPlan};
use crate::receiver::{Came, TrueEpoch};

/// How far a cell may be from what was sent: half a digit of the sentence, and of the row.
const WITHIN: [f64; 4] = [0.5e-5 / 60.0 + 0.6e-7, 0.5e-5 / 60.0 + 0.6e-7, 0.000_77, 0.0101];

/// How far a time may be from the epoch's, besides latency and jitter of the receiver: tags go in hundredths, the
/// simulation in ms.
const TIME_ERROR_MAX_S: f64 = 0.012;

/// The first epoch after a sleep shows how long it was, and may have waited in the line for so long.
const LATE_AFTER_SLEEP_S: f64 = 0.1;

fn is_of(row: &[Written], epoch: &TrueEpoch) -> bool {
    let mut cells = row.iter().skip(1).zip(epoch.reading).zip(WITHIN);
    row.len() == 5 && cells.all(|((written, sent), within)| (written.value - sent).abs() <= within)
}

/// Each row is an epoch with a fix, in their order, at its time; each that came whole while the run lasted is there, up
/// to `until_s` by the receiver's clock.
pub fn fixes_hold(
    plan: &Plan,
    receiver: &ReceiverPlan,
    (began_s, until_s): (f64, f64),
    table: &Table,
    epochs: &[TrueEpoch],
) -> Result<usize, String> {
    let late_s = 1e-3 * (receiver.latency_ms + receiver.jitter_ms);
    let mut next = 0;
    let mut before_s = f64::NEG_INFINITY;
    for (number, row) in (2..).zip(&table.rows) {
        let Some(skipped) = epochs[next..].iter().position(|epoch| is_of(row, epoch)) else {
            return Err(format!("line {number}: was never sent, or is there twice or out of order"));
        };
        all_may_be_missing(&epochs[next..next + skipped], (began_s + late_s + 0.1, until_s))?;
        let epoch = epochs[next + skipped];
        if !epoch.has_fix || epoch.came == Came::Not {
            return Err(format!("line {number}: {epoch:?}"));
        }
        let t_s = row[0].value;
        if t_s <= before_s {
            return Err(format!("line {number}: time does not rise"));
        }
        before_s = t_s;
        let off_s = t_s - (epoch.t_s - began_s);
        let knows_sleeps = plan.sleeps.iter().all(|(at_s, _)| !is_away(receiver, *at_s));
        let error_max_s = TIME_ERROR_MAX_S + LATE_AFTER_SLEEP_S * plan.sleeps.len() as f64;
        if knows_sleeps && !(-error_max_s..=late_s + error_max_s).contains(&off_s) {
            return Err(format!("line {number}: {off_s:.3} s from its epoch's time"));
        }
        next += skipped + 1;
    }
    all_may_be_missing(&epochs[next..], (began_s + late_s + 0.1, until_s))?;
    Ok(table.rows.len())
}

/// How long the computer slept is known to a receiver by the first epoch after it, if it comes soon.
fn is_away(receiver: &ReceiverPlan, sleep_s: f64) -> bool {
    receiver.faults.iter().any(|(at_s, fault)| match fault {
        ReceiverFault::Unplugged(for_s) | ReceiverFault::Silent(for_s) => {
            // Silent for seconds, its port is opened anew, which takes as long again.
            at_s - 5.0 < sleep_s && sleep_s < at_s + 2.0 * for_s + 10.0
        }
        ReceiverFault::NoFix(_) | ReceiverFault::Noise(_) => false,
    })
}

fn all_may_be_missing(epochs: &[TrueEpoch], (from_s, until_s): (f64, f64)) -> Result<(), String> {
    let lost = epochs
        .iter()
        .find(|epoch| epoch.has_fix && epoch.came == Came::Whole && (from_s..until_s).contains(&epoch.t_s));
    lost.map_or(Ok(()), |epoch| Err(format!("an epoch that came whole is not there: {epoch:?}")))
}
