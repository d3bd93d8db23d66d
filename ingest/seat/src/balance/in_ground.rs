//! Whether the plow is in the ground, and for how long.

use super::window::{BINS_A_SECOND, Window};
use super::{KEPT_S, NotShown, OVER_S, TRIM_S};
use ingest::passes::rule::{DEPTH_MM_MIN, DEPTH_SHARE, PULL_SHARE, SMOOTH_S, Stretch};
use ingest::plow::{ChannelRole, Plow, Setting};
use statics::judged_load::PullFromLinks;

/// The stretch that the balance is of, live times in µs: the last seconds but the very last, if the plow has been in the
/// ground all the while, and before and after.
///
/// # Errors
/// [`NotShown::NotInGround`], [`NotShown::InGroundTooShort`], [`NotShown::RowsMissing`].
pub fn last_stretch((plow, setting): (&Plow, &Setting), window: &Window) -> Result<(u64, u64), NotShown> {
    let now_us = window.latest_us().ok_or(NotShown::RowsMissing)?;
    let (over_us, trim_us) = ((OVER_S * 1e6) as u64, (TRIM_S * 1e6) as u64);
    let from_us = now_us.saturating_sub(over_us + 2 * trim_us);
    let readings = window.between(from_us, now_us);
    if let Some(clause) = plow.missing_for_a_verdict(|role| readings.has(role)) {
        return Err(NotShown::NotMeasured { clause });
    }
    let links = PullFromLinks::of(plow, setting, |role| readings.has(role));
    let seen = window.depth_and_pull((from_us, now_us), |at| match &links {
        Some(links) => Some(links.pull_n(at(ChannelRole::LowerLinks)?, at(ChannelRole::TopLink)?)),
        None => at(ChannelRole::Pull),
    });
    let in_ground_s = in_ground_s(&seen);
    let needed_s = KEPT_S;
    match in_ground_s {
        0.0 => Err(NotShown::NotInGround),
        // A row is in the bin that it begins.
        _ if in_ground_s < needed_s - 0.2 || now_us < over_us + 2 * trim_us => {
            Err(NotShown::InGroundTooShort { in_s: needed_s - in_ground_s })
        }
        _ => Ok((now_us - trim_us - over_us, now_us - trim_us)),
    }
}

/// For how long the plow has been in the ground until now, in s, by bins of depth (mm) and pull (N): by the rule of
/// [`ingest::passes`], with the depth and the pull that are usual in these seconds. Hops do not count, nor bins without rows.
fn in_ground_s(seen: &[Option<(f64, f64)>]) -> f64 {
    let half = (SMOOTH_S * BINS_A_SECOND / 2.0) as usize;
    let smoothed: Vec<Option<(f64, f64)>> = (0..seen.len())
        .map(|place| {
            let around = seen.get(place.saturating_sub(half)..(place + half + 1).min(seen.len()))?;
            let (mut sums, mut count) = ((0.0, 0.0), 0.0);
            for (depth, pull) in around.iter().flatten() {
                (sums, count) = ((sums.0 + depth, sums.1 + pull), count + 1.0);
            }
            (count > 0.0).then(|| (sums.0 / count, sums.1 / count))
        })
        .collect();
    let deep_enough = || smoothed.iter().flatten().filter(|(depth, _)| *depth >= DEPTH_MM_MIN);
    let high = |values: Vec<f64>| {
        stats::descriptive::percentiles(&values, &[90.0]).ok().and_then(|found| found.first().copied())
    };
    let deep = high(deep_enough().map(|(depth, _)| *depth).collect());
    let hard = high(deep_enough().map(|(_, pull)| *pull).collect());
    let (Some(deep), Some(hard)) = (deep, hard.filter(|hard| *hard > 0.0)) else { return 0.0 };
    let works = |(depth, pull): (f64, f64)| {
        depth >= DEPTH_MM_MIN && depth > DEPTH_SHARE * deep && pull > PULL_SHARE * hard
    };
    // From now backwards, until it was out for longer than a hop.
    let (mut bins_in, mut bins_out) = (0, 0_u32);
    for (back, bin) in smoothed.iter().rev().enumerate() {
        match bin {
            Some(bin) if works(*bin) => (bins_in, bins_out) = (back + 1, 0),
            Some(_) => bins_out += 1,
            None => {}
        }
        if Stretch::is_over(f64::from(bins_out) / BINS_A_SECOND) {
            break;
        }
    }
    bins_in as f64 / BINS_A_SECOND
}
