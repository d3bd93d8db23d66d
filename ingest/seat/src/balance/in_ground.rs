//! Whether the plow is in the ground, and for how long.

use super::window::{BINS_A_SECOND, Window};
use super::{KEPT_S, NotShown, OVER_S, TRIM_S};
use ingest::passes::Usual;
use ingest::passes::rule::{SMOOTH_S, Stretches};
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
    let Ok(usual) = Usual::of(smoothed.iter().flatten().copied()) else { return 0.0 };
    let mut stretches = Stretches::default();
    for (bin, seen) in smoothed.iter().enumerate() {
        let Some((depth_mm, pull_n)) = seen else { continue };
        let shown = usual.shows(*depth_mm, *pull_n);
        stretches.take(bin as f64 / BINS_A_SECOND, 1.0 / BINS_A_SECOND, shown, |_, _| true);
    }
    let until_s = smoothed.len() as f64 / BINS_A_SECOND;
    stretches.open().map_or(0.0, |open| until_s - open.from_s)
}
