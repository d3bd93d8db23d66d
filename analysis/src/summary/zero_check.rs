//! The zero of the forces at the start of a run: standing still, plow lifted, nothing pulled.
//!
//! Only pull and side force are known to be 0 then. A lifted plow still stands on its wheels, so tail wheel and
//! front wheels carry something; and what a depth gauge reads in the air depends on how high it was lifted.
//! A zero that has moved is reported and never corrected: whether it moved or the drawbar was not slack, no reading
//! can say.

use ingest::calibration::CalibrationReport;
use ingest::passes::rule::DEPTH_MM_MIN;
use ingest::passes::still::{
    KNOWN_TO_BE_ZERO, MOVES_WITH_THE_PLOW, PIECE_S, STANDING_MPS, STILL_S_MIN, ZeroBefore, is_still,
};
use ingest::plow::ChannelRole;
use schemars::JsonSchema;
use serde::Serialize;
use signals::Signals;
use stats::Estimate;
use stats::bins::Stretch;
use stats::series_figures::{Wanted, series_figures};
use std::ops::Range;

/// A zero that moved by less than this share of full scale is not worth a word, by choice.
const ALLOWED_SHARE: f64 = 0.001;

/// What a zero check found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
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
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(extend("unit" = "that of the column"))]
pub struct ZeroCheck {
    /// The channel's column.
    pub column: &'static str,
    /// What was found.
    pub verdict: ZeroVerdict,
    /// Mean reading while standing, with its interval; null where there was no check.
    pub reading: Option<Estimate>,
    /// What the calibration leaves open at 0: half of its 95 % interval, and 0.1 % of full scale at least.
    pub allowed: f64,
    /// How long the run begins standing still, in s, or the plow stood still before it.
    pub still_s: f64,
    /// How long before the run that ended, in s; absent where the run begins so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub before_s: Option<f64>,
    /// Why there was no check; null where there was, or where there are too few readings.
    pub why_not: Option<NoZeroCheck>,
    /// What the channel measures.
    #[serde(skip)]
    pub role: ChannelRole,
}

/// Why the zero cannot be checked: how the run begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum NoZeroCheck {
    /// With the plow in the ground.
    InTheGround,
    /// Under way.
    UnderWay,
    /// Standing still, but not for long enough.
    TooShort,
}

/// Checks each force channel that has a calibration: by how the run begins, or by what was read before it.
pub(super) fn zero_checks(
    signals: &Signals,
    reports: &[CalibrationReport],
    before: &[ZeroBefore],
) -> Vec<ZeroCheck> {
    let opening = Opening::of(signals, reports);
    let known = |role: &ChannelRole| signals.channels.contains_key(role);
    KNOWN_TO_BE_ZERO
        .into_iter()
        .filter(known)
        .filter_map(|role| reports.iter().find(|report| report.measures == role))
        .map(|report| {
            let before = before.iter().find(|zero| zero.column == report.measures.column());
            opening.check(signals, report, before)
        })
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
                Some((signals.channels.get(role)?.get(from..end)?, report.figures.full_scale))
            })
            .collect();
        let speed = signals.channels.get(&ChannelRole::Speed).and_then(|speed| speed.get(from..end));
        let mut rows = 0;
        while rows + piece <= end - from {
            let here = rows..rows + piece;
            let still =
                watched.iter().all(|(values, full_scale)| stands_still(values, piece, &here, *full_scale));
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

    fn check(&self, signals: &Signals, report: &CalibrationReport, before: Option<&ZeroBefore>) -> ZeroCheck {
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
            .map(|figures| (figures.mean.value, (figures.mean.high - figures.mean.low) / 2.0));
        let before = before.filter(|zero| why_not.is_some() && zero.still_s >= STILL_S_MIN);
        let (reading, why_not, still_s) = match before {
            Some(zero) => (Some((zero.mean, zero.half_width())), None, zero.still_s),
            None => (reading, why_not, self.still_s),
        };
        // Readings that never change are known to half a count.
        let half_count = report.slope.abs() / 2.0;
        let reading =
            reading.and_then(|(mean, half_width)| Estimate::around(mean, half_width.hypot(half_count)));
        let verdict = match reading {
            None => ZeroVerdict::NotChecked,
            Some(found) if found.value.abs() > allowed.hypot((found.high - found.low) / 2.0) => {
                ZeroVerdict::Moved
            }
            Some(_) => ZeroVerdict::AsCalibrated,
        };
        let before_s = before.map(|zero| zero.before_s);
        ZeroCheck { column: role.column(), verdict, reading, allowed, still_s, before_s, why_not, role }
    }
}

fn stands_still(values: &[f64], piece: usize, here: &Range<usize>, full_scale: f64) -> bool {
    let (Some(first), Some(now)) = (values.get(..piece), values.get(here.clone())) else { return false };
    is_still(mean_sd(now), mean_sd(first).0, full_scale)
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
