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
mod tests;
