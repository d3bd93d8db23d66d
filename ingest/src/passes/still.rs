//! What standing still means, and what the forces read meanwhile: standing still, plow lifted, nothing pulled.

use super::rule::DEPTH_MM_MIN;
use crate::calibration::CalibrationReport;
use crate::plow::{ChannelRole, Plow};
use crate::student::t_quantile;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Forces that are 0 while the plow stands with a slack drawbar.
pub const KNOWN_TO_BE_ZERO: [ChannelRole; 2] = [ChannelRole::Pull, ChannelRole::Side];
/// Channels that move when the plow does.
pub const MOVES_WITH_THE_PLOW: [ChannelRole; 8] = [
    ChannelRole::Pull,
    ChannelRole::Side,
    ChannelRole::Tail,
    ChannelRole::Depth,
    ChannelRole::FrontLoad,
    ChannelRole::TailLoad,
    ChannelRole::LowerLinks,
    ChannelRole::TopLink,
];
/// Readings are looked at in pieces of this length, in s.
pub const PIECE_S: f64 = 0.5;
/// A channel stands still while the SD within a piece, and the way of its mean from the first piece's, are
/// under this share of its full scale. By choice: a plow rolling on stubble moves tail and depth by 1 to 3 %,
/// and its wheels take about 2 % of a usual full scale to pull.
pub const STILL_SHARE: f64 = 0.01;
/// Slower is standing, where there is a speed: what a GNSS receiver at rest shows, by choice. In m/s.
pub const STANDING_MPS: f64 = 0.2;
/// Shorter says nothing, in s.
pub const STILL_S_MIN: f64 = 2.0;

/// Whether a piece with this mean and SD neither moves nor lies elsewhere than the first one of this mean; all in the
/// column's unit.
#[must_use]
pub fn is_still((mean, sd): (f64, f64), first_mean: f64, full_scale: f64) -> bool {
    let limit = STILL_SHARE * full_scale;
    sd <= limit && (mean - first_mean).abs() <= limit
}

/// What a force channel read while the plow stood still before a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ZeroBefore {
    /// Its column.
    pub column: String,
    /// Mean reading, in the column's unit.
    pub mean: f64,
    /// SD of the means of half a second each, in the column's unit.
    pub sd_of_half_seconds: f64,
    /// How long the plow stood still, in s.
    pub still_s: f64,
    /// How long before time 0 of the run that ended, in s; below 0 if it went on into the run.
    pub before_s: f64,
}

impl ZeroBefore {
    /// Half of the 95 % interval of the mean, in the column's unit: by Student's t over the half seconds.
    #[must_use]
    pub fn half_width(&self) -> f64 {
        let pieces = (self.still_s / PIECE_S).round().max(2.0);
        t_quantile(0.975, pieces - 1.0) * self.sd_of_half_seconds / pieces.sqrt()
    }
}

#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    count: f64,
    sum: f64,
    squares: f64,
}

impl Sums {
    fn add(&mut self, value: f64) {
        self.count += 1.0;
        self.sum += value;
        self.squares += value * value;
    }

    fn mean_sd(self) -> (f64, f64) {
        let mean = self.sum / self.count.max(1.0);
        (mean, (self.squares / self.count.max(1.0) - mean * mean).max(0.0).sqrt())
    }
}

/// A stretch of standing still: number of its last piece, the first piece's means, and the means of all pieces.
#[derive(Clone, Debug)]
struct Stretch {
    last_piece: i64,
    first: BTreeMap<ChannelRole, f64>,
    means: BTreeMap<ChannelRole, Sums>,
    pieces: u32,
}

/// Follows the readings of all boxes and keeps the last stretch in which the plow stood still, lifted.
#[derive(Clone, Debug)]
pub struct Standing {
    full_scales: BTreeMap<ChannelRole, f64>,
    piece: i64,
    sums: BTreeMap<ChannelRole, Sums>,
    now: Option<Stretch>,
    before: Option<Stretch>,
}

impl Standing {
    /// For the sensors of a plow.
    #[must_use]
    pub fn of(plow: &Plow) -> Self {
        let full_scale = |role: &ChannelRole| {
            let sensor = plow.sensors.iter().find(|sensor| sensor.measures == *role)?;
            let report = CalibrationReport::of(&sensor.calibration, *role).ok()?;
            Some((*role, report.figures.full_scale))
        };
        let full_scales = MOVES_WITH_THE_PLOW.iter().filter_map(full_scale).collect();
        Self { full_scales, piece: i64::MIN, sums: BTreeMap::new(), now: None, before: None }
    }

    /// Takes a row of one box.
    pub fn take(&mut self, t_s: f64, columns: &[ChannelRole], values: &[f64]) {
        let piece = (t_s / PIECE_S).floor() as i64;
        if piece > self.piece {
            self.look();
            self.piece = piece;
        }
        for (role, value) in columns.iter().zip(values).filter(|(_, value)| value.is_finite()) {
            self.sums.entry(*role).or_default().add(*value);
        }
    }

    /// Looks at the piece that is over.
    fn look(&mut self) {
        let sums = std::mem::take(&mut self.sums);
        let of: BTreeMap<ChannelRole, (f64, f64)> =
            sums.iter().map(|(role, sums)| (*role, sums.mean_sd())).collect();
        let stands = of.get(&ChannelRole::Speed).is_none_or(|(mps, _)| mps.abs() <= STANDING_MPS)
            && of.get(&ChannelRole::Depth).is_none_or(|(mm, _)| *mm < DEPTH_MM_MIN)
            && self.full_scales.keys().all(|role| of.contains_key(role));
        let still = |first: Option<&BTreeMap<ChannelRole, f64>>| {
            self.full_scales.iter().all(|(role, full_scale)| {
                let Some(found) = of.get(role) else { return false };
                let first_mean = first.and_then(|first| first.get(role)).copied().unwrap_or(found.0);
                is_still(*found, first_mean, *full_scale)
            })
        };
        let goes_on = self
            .now
            .as_ref()
            .is_some_and(|now| now.last_piece + 1 == self.piece && stands && still(Some(&now.first)));
        if !goes_on {
            let over = self.now.take().filter(|now| f64::from(now.pieces) * PIECE_S >= STILL_S_MIN);
            self.before = over.or(self.before.take());
            if stands && still(None) {
                let first = of.iter().map(|(role, (mean, _))| (*role, *mean)).collect();
                self.now = Some(Stretch { last_piece: self.piece, first, means: BTreeMap::new(), pieces: 0 });
            }
        }
        if let Some(now) = &mut self.now {
            (now.last_piece, now.pieces) = (self.piece, now.pieces + 1);
            for role in KNOWN_TO_BE_ZERO {
                if let Some((mean, _)) = of.get(&role) {
                    now.means.entry(role).or_default().add(*mean);
                }
            }
        }
    }

    /// What the forces read in the last stretch of standing still, for a run whose time 0 is this one, in s; empty
    /// without such a stretch. The next run needs another one.
    pub fn take_zero(&mut self, began_s: f64) -> Vec<ZeroBefore> {
        let long = |stretch: &&Stretch| f64::from(stretch.pieces) * PIECE_S >= STILL_S_MIN;
        let last = self.now.as_ref().filter(long).or(self.before.as_ref()).cloned();
        self.before = None;
        let Some(Stretch { last_piece, means, pieces, .. }) = last else { return Vec::new() };
        let to_mg = |value: f64| (value * 1e3).round() / 1e3;
        means
            .into_iter()
            .map(|(role, sums)| {
                let (mean, sd) = sums.mean_sd();
                let sample = sd * (sums.count / (sums.count - 1.0).max(1.0)).sqrt();
                ZeroBefore {
                    column: role.column().to_owned(),
                    mean: to_mg(mean),
                    sd_of_half_seconds: to_mg(sample),
                    still_s: f64::from(pieces) * PIECE_S,
                    before_s: to_mg(began_s - (last_piece + 1) as f64 * PIECE_S),
                }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plow::read_plow_text;

    const COLUMNS: [ChannelRole; 3] = [ChannelRole::Pull, ChannelRole::Tail, ChannelRole::Depth];

    fn stood(stretches: &[(f64, [f64; 3], f64)]) -> Vec<ZeroBefore> {
        let text = include_str!("../../../sample-runs/plows/two-bottom.toml");
        let mut plow = read_plow_text(text, std::path::Path::new("plow.toml")).unwrap();
        plow.sensors.retain(|sensor| COLUMNS.contains(&sensor.measures));
        let mut standing = Standing::of(&plow);
        let mut row = 0u32;
        for (lasts_s, values, sway) in stretches {
            for _ in 0..(lasts_s * 100.0) as u32 {
                let t_s = f64::from(row) / 100.0;
                let wave = (9.0 * t_s).sin();
                standing.take(
                    t_s,
                    &COLUMNS,
                    &values.map(|value| value + sway * wave * (1.0 + 0.1 * value.abs())),
                );
                row += 1;
            }
        }
        standing.take_zero(f64::from(row) / 100.0)
    }

    #[test]
    fn the_last_time_that_the_plow_hung_still_is_kept() {
        let (still, rolling, plowing) = ([12.0, 40.0, -60.0], [300.0, 41.0, -60.0], [7000.0, 30.0, 180.0]);
        let zero = stood(&[(20.0, plowing, 5.0), (6.0, still, 0.0), (10.0, rolling, 3.0)]);
        assert_eq!(zero.len(), 1, "{zero:?}");
        assert!((zero[0].mean - 12.0).abs() < 0.01 && (5.0..=6.0).contains(&zero[0].still_s), "{zero:?}");
        assert!((zero[0].before_s - 10.0).abs() < 1.1 && zero[0].half_width() < 0.1, "{zero:?}");
        // Rolling, standing in the ground, and too short.
        for (lasts_s, values, sway) in
            [(20.0, rolling, 3.0), (20.0, [0.0, 30.0, 180.0], 0.0), (1.5, still, 0.0)]
        {
            assert_eq!(stood(&[(20.0, plowing, 5.0), (lasts_s, values, sway), (5.0, rolling, 3.0)]), []);
        }
    }

    #[test]
    fn two_seconds_in_one_stretch_are_enough_and_serve_one_run() {
        let (still, rolling, plowing) = ([12.0, 40.0, -60.0], [300.0, 41.0, -60.0], [7000.0, 30.0, 180.0]);
        let zero = stood(&[(20.0, plowing, 5.0), (2.0, still, 0.0), (5.0, rolling, 3.0)]);
        assert_eq!((zero[0].still_s, zero[0].before_s), (2.0, 5.0), "{zero:?}");
        let text = include_str!("../../../sample-runs/plows/two-bottom.toml");
        let mut plow = read_plow_text(text, std::path::Path::new("plow.toml")).unwrap();
        plow.sensors.retain(|sensor| COLUMNS.contains(&sensor.measures));
        let columns = [&COLUMNS[..], &[ChannelRole::Speed]].concat();
        // Rows from one number to another, a hundred a second, at a speed.
        let stands = |stretches: &[[u32; 2]], mps: f64| {
            let mut standing = Standing::of(&plow);
            for row in stretches.iter().flat_map(|[from, to]| *from..*to) {
                standing.take(f64::from(row) / 100.0, &columns, &[12.0, 40.0, -60.0, mps]);
            }
            // Then it rolls.
            for row in 3000..3300 {
                standing.take(f64::from(row) / 100.0, &columns, &[900.0, 40.0, -60.0, 1.5]);
            }
            [standing.take_zero(33.0).len(), standing.take_zero(33.0).len()]
        };
        assert_eq!(stands(&[[2500, 2800]], 0.0), [1, 0], "another run needs another stretch");
        assert_eq!(stands(&[[2500, 2800]], 1.5), [0, 0], "it moves");
        assert_eq!(stands(&[[1000, 1150], [2500, 2650]], 0.0), [0, 0], "nobody saw it between");
    }

    /// Four half seconds: Student's t of three degrees of freedom, by its table, over the root of four.
    #[test]
    fn the_interval_of_a_zero_is_as_wide_as_so_few_pieces_make_it() {
        let zero = |still_s| ZeroBefore {
            column: "pull_n".to_owned(),
            mean: 12.0,
            sd_of_half_seconds: 10.0,
            still_s,
            before_s: 0.0,
        };
        assert!((zero(2.0).half_width() - 3.182 * 10.0 / 2.0).abs() < 0.01, "{}", zero(2.0).half_width());
        assert!((zero(12.5).half_width() - 2.064 * 10.0 / 5.0).abs() < 0.01, "{}", zero(12.5).half_width());
    }

    /// A sensor of the plow that brings nothing may be moving; backing up is moving; a piece that shakes is no rest.
    #[test]
    fn what_cannot_be_seen_or_moves_backward_does_not_stand_still() {
        let text = include_str!("../../../sample-runs/plows/two-bottom.toml");
        let mut plow = read_plow_text(text, std::path::Path::new("plow.toml")).unwrap();
        plow.sensors.retain(|sensor| COLUMNS.contains(&sensor.measures));
        let zeros = |columns: &[ChannelRole], values: &[f64]| {
            let mut standing = Standing::of(&plow);
            (0..500u32).for_each(|row| standing.take(f64::from(row) / 100.0, columns, values));
            standing.take_zero(5.0).len()
        };
        let columns = [&COLUMNS[..], &[ChannelRole::Speed]].concat();
        assert_eq!(zeros(&columns, &[12.0, 40.0, -60.0, 0.1]), 1);
        assert_eq!(zeros(&columns, &[12.0, 40.0, -60.0, -0.5]), 0, "backward");
        assert_eq!(zeros(&COLUMNS, &[12.0, 40.0, 30.0]), 0, "as deep as plowing");
        assert_eq!(zeros(&COLUMNS[..2], &[12.0, 40.0]), 0, "nobody sees how deep");
        assert!(is_still((1.0, 10.0), 1.0, 1000.0) && is_still((-9.0, 0.0), 1.0, 1000.0));
        assert!(!is_still((1.0, 10.1), 1.0, 1000.0) && !is_still((-9.1, 0.0), 1.0, 1000.0));
    }
}
