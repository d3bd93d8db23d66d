//! The working part: from when the plow is in the ground to when it leaves it.

use super::{Segment, Signals};
use ingest::plow::ChannelRole;

/// Cut off each end: the plow is still finding its depth, or already leaving it.
const TRIM_S: f64 = 2.0;
/// Depth and pull are smoothed over this long before they are compared.
const SMOOTH_S: f64 = 0.5;
/// Out of the ground for less than this is a hop, not the end.
const HOP_S: f64 = 1.5;
/// Shortest working part that is analysed: three periods of the slowest bobbing searched for (0.5 Hz).
pub const WORKING_S_MIN: f64 = 6.0;
/// Shallower than this is not plowing.
const DEPTH_MM_MIN: f64 = 20.0;

/// A stretch of the run, in run time.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize)]
pub struct WorkingPart {
    /// Start in s.
    pub from_s: f64,
    /// End in s.
    pub to_s: f64,
}

/// Why there is no working part. Each is one sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum WorkingPartError {
    /// A channel that the search needs is not in the run.
    #[error("the run has no {0} column, and the working part is found from depth and pull")]
    NoChannel(&'static str),
    /// Depth and pull never said so.
    #[error("the plow was never in the ground: depth stayed under {depth_mm:.0} mm or the pull never rose")]
    NeverInGround {
        /// Depth that was reached, 90th percentile, or the least that counts.
        depth_mm: f64,
    },
    /// Three periods of slow bobbing do not fit in.
    #[error(
        "the working part is {found_s:.1} s long after its ends are trimmed by 2 s each; at least \
         {WORKING_S_MIN:.0} s are needed (three bobbing periods): make a longer pass"
    )]
    TooShort {
        /// Its length.
        found_s: f64,
    },
}

/// Finds the longest stretch in which the plow is at least half as deep, and pulled at least a third as
/// hard, as it is most of the time; hops of under 1.5 s do not end it; 2 s are trimmed off each end.
///
/// # Errors
/// [`WorkingPartError`] if there is none, or none of [`WORKING_S_MIN`].
pub fn find_working_part(signals: &Signals) -> Result<WorkingPart, WorkingPartError> {
    let channel =
        |role: ChannelRole| signals.channels.get(&role).ok_or(WorkingPartError::NoChannel(role.column()));
    let depth = smoothed(channel(ChannelRole::Depth)?, signals);
    let pull = smoothed(channel(ChannelRole::Pull)?, signals);
    let (deep, hard) = (high_level(&depth), high_level(&pull));
    if deep < DEPTH_MM_MIN || hard <= 0.0 {
        return Err(WorkingPartError::NeverInGround { depth_mm: deep.max(DEPTH_MM_MIN) });
    }
    let mut best: Option<WorkingPart> = None;
    let mut current: Option<WorkingPart> = None;
    for Segment { start_s, rows } in &signals.segments {
        for row in rows.clone() {
            let t_s = start_s + (row - rows.start) as f64 / signals.rate_hz;
            let deep_enough = depth.get(row).is_some_and(|d| *d > 0.5 * deep);
            if !(deep_enough && pull.get(row).is_some_and(|p| *p > 0.3 * hard)) {
                continue;
            }
            current = Some(match current {
                Some(part) if t_s - part.to_s < HOP_S => WorkingPart { to_s: t_s, ..part },
                ended => {
                    best = longer(best, ended);
                    WorkingPart { from_s: t_s, to_s: t_s }
                }
            });
        }
    }
    let whole = longer(best, current).ok_or(WorkingPartError::NeverInGround { depth_mm: deep })?;
    let trimmed = WorkingPart { from_s: whole.from_s + TRIM_S, to_s: whole.to_s - TRIM_S };
    let found_s = (trimmed.to_s - trimmed.from_s).max(0.0);
    if found_s < WORKING_S_MIN { Err(WorkingPartError::TooShort { found_s }) } else { Ok(trimmed) }
}

fn longer(a: Option<WorkingPart>, b: Option<WorkingPart>) -> Option<WorkingPart> {
    let length = |part: &WorkingPart| part.to_s - part.from_s;
    [a, b].into_iter().flatten().max_by(|a, b| length(a).total_cmp(&length(b)))
}

/// Moving mean within each segment; shorter towards its ends.
fn smoothed(values: &[f64], signals: &Signals) -> Vec<f64> {
    let half = ((SMOOTH_S * signals.rate_hz / 2.0) as usize).max(1);
    let mut out = vec![0.0; values.len()];
    for segment in &signals.segments {
        let Some(piece) = values.get(segment.rows.clone()) else { continue };
        let mut sums = Vec::with_capacity(piece.len() + 1);
        sums.push(0.0);
        let mut sum = 0.0;
        for value in piece {
            sum += value;
            sums.push(sum);
        }
        let Some(target) = out.get_mut(segment.rows.clone()) else { continue };
        for (index, smooth) in target.iter_mut().enumerate() {
            let (from, to) = (index.saturating_sub(half), (index + half + 1).min(piece.len()));
            if let (Some(low), Some(high)) = (sums.get(from), sums.get(to)) {
                *smooth = (high - low) / (to - from) as f64;
            }
        }
    }
    out
}

/// The 90th percentile, thinned: what the signal has when the plow works, however short the ends.
fn high_level(values: &[f64]) -> f64 {
    let every = values.len().div_ceil(20_000).max(1);
    let thinned: Vec<f64> = values.iter().step_by(every).copied().collect();
    crate::stats::descriptive::percentiles(&thinned, &[90.0])
        .ok()
        .and_then(|found| found.first().copied())
        .unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::Table;
    use crate::signals::uniform;

    fn pass(seconds: &[(f64, f64, f64)]) -> Signals {
        let mut table = Table::default();
        let (mut depth, mut pull) = (Vec::new(), Vec::new());
        for (length_s, depth_mm, pull_n) in seconds {
            for _ in 0..(length_s * 50.0) as usize {
                table.t_s.push(table.t_s.len() as f64 / 50.0);
                depth.push(*depth_mm);
                pull.push(*pull_n);
            }
        }
        table.channels = [(ChannelRole::Depth, depth), (ChannelRole::Pull, pull)].into();
        uniform(table).unwrap()
    }

    #[test]
    fn the_plow_in_the_ground_is_found_and_its_ends_trimmed() {
        let part = find_working_part(&pass(&[(5.0, 0.0, 300.0), (30.0, 180.0, 7000.0), (5.0, 0.0, 300.0)]));
        let part = part.unwrap();
        assert!((part.from_s - 7.0).abs() < 0.3, "{part:?}");
        assert!((part.to_s - 33.0).abs() < 0.3, "{part:?}");
    }

    #[test]
    fn a_hop_does_not_end_it_and_a_lifting_does() {
        let hop = pass(&[(20.0, 180.0, 7000.0), (0.8, 0.0, 300.0), (20.0, 180.0, 7000.0)]);
        let part = find_working_part(&hop).unwrap();
        assert!(part.to_s - part.from_s > 35.0, "{part:?}");
        let lifted = pass(&[(20.0, 180.0, 7000.0), (5.0, 0.0, 300.0), (25.0, 180.0, 7000.0)]);
        let part = find_working_part(&lifted).unwrap();
        assert!((part.from_s - 27.0).abs() < 0.4, "{part:?}");
    }

    #[test]
    fn what_cannot_be_analysed_is_said() {
        let short = find_working_part(&pass(&[(5.0, 0.0, 300.0), (6.0, 180.0, 7000.0)]));
        assert!(matches!(short, Err(WorkingPartError::TooShort { .. })), "{short:?}");
        let air = find_working_part(&pass(&[(30.0, 2.0, 300.0)]));
        assert!(matches!(air, Err(WorkingPartError::NeverInGround { .. })), "{air:?}");
    }
}
