//! The zero of the forces at the start of a run: standing still, plow lifted, nothing pulled.
//!
//! Only pull and side force are known to be 0 then. A lifted plow still stands on its wheels, so tail wheel and
//! front wheels carry something; and what a depth gauge reads in the air depends on how high it was lifted.
//! A zero that has moved is reported and never corrected: whether it moved or the drawbar was not slack, no reading
//! can say.

use ingest::calibration::CalibrationReport;
use ingest::plow::ChannelRole;
use serde::Serialize;
use signals::Signals;
use stats::Estimate;
use stats::bins::Stretch;
use stats::series_figures::{Wanted, series_figures};
use std::ops::Range;

/// Forces that are 0 while the plow stands with a slack drawbar.
const KNOWN_TO_BE_ZERO: [ChannelRole; 2] = [ChannelRole::Pull, ChannelRole::Side];
/// Channels that move when the plow does.
const MOVES_WITH_THE_PLOW: [ChannelRole; 8] = [
    ChannelRole::Pull,
    ChannelRole::Side,
    ChannelRole::Tail,
    ChannelRole::Depth,
    ChannelRole::FrontLoad,
    ChannelRole::TailLoad,
    ChannelRole::LowerLinks,
    ChannelRole::TopLink,
];
/// The opening is looked at in pieces of this length.
const PIECE_S: f64 = 0.5;
/// A channel stands still while the SD within a piece, and the way of its mean from the first piece's, are
/// under this share of its full scale. By choice: a plow rolling on stubble moves tail and depth by 1 to 3 %,
/// and its wheels take about 2 % of a usual full scale to pull.
const STILL_SHARE: f64 = 0.01;
/// Slower is standing, where there is a speed: what a GNSS receiver at rest shows, by choice.
const STANDING_MPS: f64 = 0.2;
/// As deep is in the ground.
const DEPTH_MM_MIN: f64 = 20.0;
/// Shorter says nothing.
const STILL_S_MIN: f64 = 2.0;
/// A zero that moved by less than this share of full scale is not worth a word, by choice.
const ALLOWED_SHARE: f64 = 0.001;

/// What a zero check found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ZeroVerdict {
    /// The reading holds 0 within its interval and what the calibration allows.
    AsCalibrated,
    /// It does not.
    Moved,
    /// The run does not begin standing still for long enough.
    NotChecked,
}

/// The zero check of one channel; readings in the column's unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ZeroCheck {
    /// The channel's column.
    pub column: &'static str,
    /// What was found.
    pub verdict: ZeroVerdict,
    /// Mean reading while standing, with its interval; null where there was no check.
    pub reading: Option<Estimate>,
    /// What the calibration leaves open at 0: half of its 95 % interval, and 0.1 % of full scale at least.
    pub allowed: f64,
    /// How long the run begins standing still, in s.
    pub still_s: f64,
    /// Why there was no check; null where there was, or where there are too few readings.
    pub why_not: Option<NoZeroCheck>,
    /// What the channel measures.
    #[serde(skip)]
    pub role: ChannelRole,
}

/// Why the zero cannot be checked: how the run begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoZeroCheck {
    /// With the plow in the ground.
    InTheGround,
    /// Under way.
    UnderWay,
    /// Standing still, but not for long enough.
    TooShort,
}

/// Checks each force channel that has a calibration.
pub(super) fn zero_checks(signals: &Signals, reports: &[CalibrationReport]) -> Vec<ZeroCheck> {
    let opening = Opening::of(signals, reports);
    let known = |role: &ChannelRole| signals.channels.contains_key(role);
    KNOWN_TO_BE_ZERO
        .into_iter()
        .filter(known)
        .filter_map(|role| reports.iter().find(|report| report.measures == role))
        .map(|report| opening.check(signals, report))
        .collect()
}

/// How a run begins.
struct Opening {
    /// Rows that stand still, from the first.
    rows: Range<usize>,
    start_s: f64,
    still_s: f64,
    in_the_ground: bool,
}

impl Opening {
    fn of(signals: &Signals, reports: &[CalibrationReport]) -> Self {
        let piece = ((PIECE_S * signals.rate_hz) as usize).max(2);
        let first = signals.segments.first();
        let (from, end) = first.map_or((0, 0), |segment| (segment.rows.start, segment.rows.end));
        let watched: Vec<(&[f64], f64)> = MOVES_WITH_THE_PLOW
            .iter()
            .filter_map(|role| {
                let report = reports.iter().find(|report| report.measures == *role)?;
                let limit = STILL_SHARE * report.figures.full_scale;
                Some((signals.channels.get(role)?.get(from..end)?, limit))
            })
            .collect();
        let speed = signals.channels.get(&ChannelRole::Speed).and_then(|speed| speed.get(from..end));
        let mut rows = 0;
        while rows + piece <= end - from {
            let here = rows..rows + piece;
            let still = watched.iter().all(|(values, limit)| is_still(values, piece, &here, *limit));
            let stands = speed
                .and_then(|speed| speed.get(here.clone()))
                .is_none_or(|mps| mean_sd(mps).0.abs() <= STANDING_MPS);
            if !(still && stands) {
                break;
            }
            rows += piece;
        }
        let depth = signals.channels.get(&ChannelRole::Depth).and_then(|depth| depth.get(from..from + piece));
        Self {
            rows: from..from + rows,
            start_s: first.map_or(0.0, |segment| segment.start_s),
            still_s: rows as f64 / signals.rate_hz,
            in_the_ground: depth.is_some_and(|depth| mean_sd(depth).0 >= DEPTH_MM_MIN),
        }
    }

    fn check(&self, signals: &Signals, report: &CalibrationReport) -> ZeroCheck {
        let role = report.measures;
        let allowed =
            report.uncertainty_at_zero.expanded.max(ALLOWED_SHARE * report.figures.full_scale.abs());
        let why_not = match self.still_s {
            _ if self.in_the_ground => Some(NoZeroCheck::InTheGround),
            0.0 => Some(NoZeroCheck::UnderWay),
            ..STILL_S_MIN => Some(NoZeroCheck::TooShort),
            _ => None,
        };
        let values = signals.channels.get(&role).and_then(|values| values.get(self.rows.clone()));
        let stretch = values.map(|values| [Stretch { start_s: self.start_s, values }]);
        let reading = stretch
            .filter(|_| why_not.is_none())
            .and_then(|stretch| series_figures(&stretch, signals.rate_hz, Wanted::default()).ok())
            .and_then(|figures| {
                // Readings that never change are known to half a count.
                let half_count = report.slope.abs() / 2.0;
                let half_width = ((figures.mean.high - figures.mean.low) / 2.0).hypot(half_count);
                Estimate::around(figures.mean.value, half_width)
            });
        let verdict = match reading {
            None => ZeroVerdict::NotChecked,
            Some(found) if found.value.abs() > allowed.hypot((found.high - found.low) / 2.0) => {
                ZeroVerdict::Moved
            }
            Some(_) => ZeroVerdict::AsCalibrated,
        };
        ZeroCheck { column: role.column(), verdict, reading, allowed, still_s: self.still_s, why_not, role }
    }
}

/// Whether a piece of a channel neither moves nor lies elsewhere than the first piece.
fn is_still(values: &[f64], piece: usize, here: &Range<usize>, limit: f64) -> bool {
    let (Some(first), Some(now)) = (values.get(..piece), values.get(here.clone())) else { return false };
    let ((first_mean, _), (mean, sd)) = (mean_sd(first), mean_sd(now));
    sd <= limit && (mean - first_mean).abs() <= limit
}

fn mean_sd(values: &[f64]) -> (f64, f64) {
    let count = values.len().max(1) as f64;
    let mean = values.iter().sum::<f64>() / count;
    (mean, (values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / count).sqrt())
}

impl ZeroCheck {
    /// The zero as it moved, in the column's unit; 0 where it was not shown to.
    pub fn shift(&self) -> f64 {
        match (self.verdict, self.reading) {
            (ZeroVerdict::Moved, Some(found)) => found.value,
            _ => 0.0,
        }
    }
}

#[cfg(test)]
mod tests;
