//! The balance index of the last seconds, by the same statics as the report of a pass: what the seat shows while the plow
//! works.
//!
//! [`Window`] keeps what the rows of the last seconds add up to; [`balance_of`] judges them; [`LiveBalance`](crate::live_balance::LiveBalance) does both
//! beside a recording, once a second, on a thread of its own. What is not known is [`NotShown`], with why.
//!
//! Against the report of the whole pass it lacks three things that no 20 s can give: the gain of the tail load on the pull, as a
//! further witness; whether the pull's zero had moved at the start; and single spikes are not taken out.

mod in_ground;
mod outcome;
mod window;

pub use in_ground::last_stretch;
pub use outcome::{Balance, NotShown, Shown};
pub use window::{Window, WindowReadings};

use ingest::plow::{ChannelRole, Plow, Setting};
use statics::calibrations::Calibrations;
use statics::inputs::RunFigures;
use statics::judge::{Judged, judge};
use statics::judged_load::{JudgedLoad, PullFromLinks};
use statics::means::Means;
use statics::verdict::Indicators;

/// The balance is that of so long, in s.
pub const OVER_S: f64 = 20.0;
/// In the ground for so long before and after that too, in s, as is cut off the ends of a pass: so the plow is neither
/// finding its depth nor leaving it.
pub const TRIM_S: f64 = ingest::passes::rule::TRIM_S;
/// So long must be known, in s.
pub const KEPT_S: f64 = OVER_S + 2.0 * TRIM_S;
/// Kept draws: the standard error of an end of the interval is 3 % of its width.
pub const DRAWS: usize = 2_000;
/// The share of a window that may be without rows (by choice).
const MISSING_SHARE_MAX: f64 = 0.05;

/// What the readings of a stretch in the ground say of the balance.
#[derive(Clone, Debug)]
pub struct Found {
    /// What the statics was worked out from.
    pub figures: RunFigures,
    /// Statics and verdict.
    pub judged: Judged,
    /// Whether the load that it is judged by is the front's.
    pub front: bool,
}

/// Judges what was read between two live times in the ground, in µs, of a plow whose shares are as they are today.
///
/// # Errors
/// [`NotShown`]: rows or a channel missing, a channel that never moves.
pub fn balance_of(
    (plow, setting): (&Plow, &Setting),
    window: &Window,
    (from_us, to_us): (u64, u64),
    draws: usize,
) -> Result<Found, NotShown> {
    let readings = window.between(from_us, to_us);
    let has = |role| readings.has(role);
    let by_links = PullFromLinks::of(plow, setting, has);
    if let Some(clause) = plow.missing_for_a_verdict(has) {
        return Err(NotShown::NotMeasured { clause });
    }
    if readings.missing_share() > MISSING_SHARE_MAX {
        return Err(NotShown::RowsMissing);
    }
    let pull_n = match &by_links {
        Some(links) => readings
            .mean_of_both((ChannelRole::LowerLinks, ChannelRole::TopLink), |lower_n, top_n| {
                links.pull_n(lower_n, top_n)
            }),
        None => readings.mean(ChannelRole::Pull),
    };
    let judged_load = JudgedLoad::of(plow, setting, has);
    let judged_role = judged_load.as_ref().map(|judged| judged.load.role());
    for role in [ChannelRole::Pull, ChannelRole::Depth].into_iter().chain(judged_role) {
        if readings.never_moves(role) {
            return Err(NotShown::Constant { channel: role });
        }
    }
    let means = Means {
        pull_n: pull_n.ok_or(NotShown::RowsMissing)?,
        pull_from_links: by_links.is_some(),
        zero_shift_n: 0.0,
        tail_by_table_n: readings.tail_by_table().filter(|_| judged_role == Some(ChannelRole::Tail)),
        depth_mm: readings.mean(ChannelRole::Depth).ok_or(NotShown::RowsMissing)?.value,
        of: &|role| readings.mean(role),
    };
    let calibrations = Calibrations::of(plow, &plow.sensors);
    let figures = RunFigures::of_means((plow, setting), &calibrations, &means);
    let front = judged_load.as_ref().is_some_and(JudgedLoad::is_front);
    let signs = Indicators {
        lifted_share: judged_load.as_ref().and_then(|judged| readings.lifted_share(judged)),
        front_lifted: front,
        measured_gain: None,
        stray: None,
    };
    let judged = judge((plow, setting), &figures, (&signs, readings.table(plow)), draws);
    Ok(Found { figures, judged, front })
}

#[cfg(test)]
mod tests;
