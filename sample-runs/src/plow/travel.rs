//! Speed and distance of a pass: steady, or wandering slowly about a mean.

use super::field::noise;

/// Time from one stored speed to the next in s.
const STEP_S: f64 = 0.05;
/// Beyond this many standard deviations a wandering speed is held.
const WANDER_MAX: f64 = 3.0;

/// How the forward speed wanders about its mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpeedWander {
    /// Standard deviation over mean, below a third.
    pub sd_share: f64,
    /// Correlation time in s: that of each of the two equal first-order low-passes that the noise goes through.
    pub time_s: f64,
}

impl SpeedWander {
    /// A steady speed.
    pub const NONE: Self = Self { sd_share: 0.0, time_s: 5.0 };
}

/// Distance and speed as functions of the time since the plow moved off.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Travel {
    mean_mps: f64,
    /// Distance (m) and speed (m/s) every [`STEP_S`]; empty where the speed is steady.
    stored: Vec<(f64, f64)>,
}

impl Travel {
    /// For `moving_s` seconds; the wander depends on `seed` alone.
    pub(super) fn new(mean_mps: f64, wander: &SpeedWander, seed: u64, moving_s: f64) -> Self {
        let mut stored = Vec::new();
        // Not above 0, or no number: steady.
        if wander.sd_share > 0.0 {
            // The cast is of a time in steps: a negative or absurd one becomes 0 or is cut by `as`.
            let points = (moving_s.clamp(0.0, 1e6) / STEP_S).ceil() as usize + 2;
            let mut from: Option<(f64, f64)> = None;
            for share in noise(seed, 6, points, (wander.sd_share, wander.time_s), STEP_S, 2) {
                let most = (WANDER_MAX * wander.sd_share).min(0.9);
                let speed_mps = mean_mps * (1.0 + share.clamp(-most, most));
                // Between two stored speeds it goes in a straight line, so the trapezoid is exact.
                let distance_m =
                    from.map_or(0.0, |(distance_m, before)| distance_m + STEP_S * (before + speed_mps) / 2.0);
                from = Some((distance_m, speed_mps));
                stored.extend(from);
            }
        }
        Self { mean_mps, stored }
    }

    /// Distance (m) and speed (m/s) so long after it moved off; before that it has gone nowhere.
    pub(super) fn at(&self, moving_s: f64) -> (f64, f64) {
        let moving_s = moving_s.max(0.0);
        let left = (moving_s / STEP_S).floor() as usize;
        let left = left.min(self.stored.len().saturating_sub(2));
        let (Some((distance_m, from)), Some((_, to))) = (self.stored.get(left), self.stored.get(left + 1))
        else {
            return (self.mean_mps * moving_s, self.mean_mps);
        };
        let gap_s = moving_s - left as f64 * STEP_S;
        let speed_mps = from + (to - from) * gap_s / STEP_S;
        (distance_m + gap_s * (from + speed_mps) / 2.0, speed_mps)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const WANDER: SpeedWander = SpeedWander { sd_share: 0.06, time_s: 4.0 };

    #[test]
    fn a_wandering_speed_has_its_mean_and_spread_and_is_the_slope_of_the_distance() {
        let travel = Travel::new(1.6, &WANDER, 3, 8_000.0);
        let (mut sum, mut sum2, n) = (0.0, 0.0, 40_000);
        for i in 1..=n {
            let t_s = f64::from(i) * 0.2 - 0.017;
            let (_, speed_mps) = travel.at(t_s);
            let small_s = 1e-4;
            let slope = (travel.at(t_s + small_s).0 - travel.at(t_s - small_s).0) / (2.0 * small_s);
            assert!((slope - speed_mps).abs() < 1e-3, "{slope} {speed_mps}");
            sum += speed_mps;
            sum2 += speed_mps * speed_mps;
        }
        let mean = sum / f64::from(n);
        let sd = (sum2 / f64::from(n) - mean * mean).sqrt();
        // 1,000 correlation times: the mean is known to 0.3 %, the spread to a few per cent.
        assert!((mean / 1.6 - 1.0).abs() < 0.01 && (sd / (0.06 * 1.6) - 1.0).abs() < 0.1, "{mean} {sd}");
    }

    #[test]
    fn a_steady_speed_is_steady_to_the_last_bit_and_nothing_moves_before_the_start() {
        let steady = Travel::new(1.6, &SpeedWander::NONE, 3, 60.0);
        assert_eq!(steady.at(12.3), (1.6 * 12.3, 1.6));
        for travel in [steady, Travel::new(1.6, &WANDER, 3, 60.0)] {
            assert_eq!(travel.at(-2.0).0, 0.0);
            assert!(travel.at(1e9).0.is_finite());
        }
    }
}
