//! The same channel at other moments: by straight lines, or smoothed first where readings would be left out.

use std::f64::consts::PI;

/// Readings closer together than this share of the new step are smoothed before some of them are left out.
const FINER_SHARE: f64 = 0.9;
/// Cut of the smoothing, in cycles per new step, and its reach to either side, in new steps. A Hann-windowed
/// sinc of this cut and reach is down by 40 dB from 0.6 cycles a step on, so what folds back stays above 0.4
/// cycles a step; the plain mean over a step, which is shorter, lets a fifth of what lies about one cycle a step
/// fold back to where bobbing is. (Window method, e.g. Oppenheim & Schafer, Discrete-Time Signal Processing, 7.5;
/// from memory.)
const CUT: f64 = 0.4;
const REACH_STEPS: f64 = 4.0;

/// Channels at `targets`, which rise with about `step` between them; one result a channel, in order.
///
/// `times` rise, one for each reading of each channel, without a gap between them, and hold all targets between
/// their first and last. Where readings are at least as far apart as targets, straight lines between neighbours;
/// else a low-pass that reaches over up to four steps to either side, less near the ends, so that it never
/// looks to one side only. Seconds or metres, as long as all are the same.
pub(super) fn at(times: &[f64], channels: &[&[f64]], targets: &[f64], step: f64) -> Vec<Vec<f64>> {
    let mut results: Vec<Vec<f64>> = channels.iter().map(|_| Vec::with_capacity(targets.len())).collect();
    let (Some(&first), Some(&last)) = (times.first(), times.last()) else { return results };
    let spacing = (last - first) / (times.len() - 1).max(1) as f64;
    let finer = spacing > 0.0 && spacing < FINER_SHARE * step;
    let (mut after, mut from) = (1, 0);
    let mut sums = vec![0.0; channels.len()];
    for &target in targets {
        let reach = (REACH_STEPS * step).min(target - first).min(last - target);
        if finer && reach >= 2.0 * spacing {
            let weight = smooth(times, channels, (target, reach, step), &mut from, &mut sums);
            results.iter_mut().zip(&sums).for_each(|(result, sum)| result.push(sum / weight));
        } else {
            while after + 1 < times.len() && times.get(after).is_some_and(|time| *time < target) {
                after += 1;
            }
            results.iter_mut().zip(channels).for_each(|(result, values)| {
                result.extend(between(times, values, after, target));
            });
        }
    }
    results
}

/// The value at `target` on the straight line from the reading before `after` to it.
fn between(times: &[f64], values: &[f64], after: usize, target: f64) -> Option<f64> {
    let before = after.checked_sub(1)?;
    let (t0, v0) = (times.get(before)?, values.get(before)?);
    let Some((t1, v1)) = times.get(after).zip(values.get(after)) else { return Some(*v0) };
    Some(v0 + (v1 - v0) * ((target - t0) / (t1 - t0)).clamp(0.0, 1.0))
}

/// Weighted sums of the readings within `reach` of the target into `sums`; returns the weights' sum. `from` is
/// the first reading in reach of the target before, and moves on.
fn smooth(
    times: &[f64],
    channels: &[&[f64]],
    (target, reach, step): (f64, f64, f64),
    from: &mut usize,
    sums: &mut [f64],
) -> f64 {
    while times.get(*from).is_some_and(|time| *time < target - reach) {
        *from += 1;
    }
    sums.fill(0.0);
    let mut weights = 0.0;
    for (row, time) in times.iter().enumerate().skip(*from).take_while(|(_, time)| **time <= target + reach) {
        let off = time - target;
        let phase = 2.0 * PI * CUT * off / step;
        let sinc = if phase.abs() < 1e-9 { 1.0 } else { phase.sin() / phase };
        let weight = sinc * (0.5 + 0.5 * (PI * off / reach).cos());
        weights += weight;
        for (sum, values) in sums.iter_mut().zip(channels) {
            *sum += weight * values.get(row).copied().unwrap_or(0.0);
        }
    }
    weights
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(count: u32, step: f64, start: f64) -> Vec<f64> {
        (0..count).map(|i| start + f64::from(i) * step).collect()
    }

    fn largest(values: &[f64]) -> f64 {
        values.iter().fold(0.0, |most, value| most.max(value.abs()))
    }

    #[test]
    fn a_straight_line_stays_one_whichever_way_it_is_carried() {
        let targets = grid(90, 0.1, 0.5);
        for step in [0.01, 0.03, 0.1, 0.37] {
            let times = grid((10.0 / step) as u32, step, 0.0);
            let values: Vec<f64> = times.iter().map(|t| 3.0 - 2.0 * t).collect();
            let found = &at(&times, &[&values], &targets, 0.1)[0];
            for (value, t) in found.iter().zip(&targets) {
                assert!((value - (3.0 - 2.0 * t)).abs() < 1e-3, "{step}: {value} at {t}");
            }
        }
    }

    /// 1 kHz to 100 Hz: what is slow passes, what would fold back onto it does not.
    #[test]
    fn what_would_fold_back_is_taken_out_and_what_is_slow_is_kept() {
        let (times, targets) = (grid(20_000, 0.001, 0.0), grid(1800, 0.01, 1.0));
        let wave = |hz: f64, t: f64| (2.0 * PI * hz * t).sin();
        let slow: Vec<f64> = times.iter().map(|t| wave(4.0, *t)).collect();
        let fast: Vec<f64> = times.iter().map(|t| wave(98.0, *t)).collect();
        let found = at(&times, &[&slow, &fast], &targets, 0.01);
        let off: Vec<f64> = found[0].iter().zip(&targets).map(|(v, t)| v - wave(4.0, *t)).collect();
        assert!(largest(&off) < 0.005, "4 Hz is off by {}", largest(&off));
        assert!(largest(&found[1]) < 0.01, "98 Hz at 100 Hz leaves {}", largest(&found[1]));
    }

    #[test]
    fn the_ends_have_values_too() {
        let times = grid(101, 0.001, 0.0);
        let values = vec![5.0; 101];
        let found = &at(&times, &[&values], &[0.0, 0.03, 0.1], 0.03)[0];
        assert_eq!(found.len(), 3);
        assert!(largest(&found.iter().map(|v| v - 5.0).collect::<Vec<_>>()) < 1e-12, "{found:?}");
        assert_eq!(at(&[1.0], &[&[2.0]], &[1.0], 0.1), [[2.0]]);
    }
}
