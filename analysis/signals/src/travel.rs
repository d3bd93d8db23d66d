//! How fast the plow went, and so where it was along the pass.

use super::resample;
use super::time_base::{Segment, Signals, uniform_within};
use crate::run::{GnssTable, SpeedFrom, Table};
use ingest::plow::ChannelRole;
use std::borrow::Cow;
use std::ops::Range;

/// Between fixes further apart than this many usual intervals the speed is not known.
const HOLE_STEPS: f64 = 2.5;
/// Slower than this the plow stands, and distance says nothing of what it does: by choice.
const STANDS_MPS: f64 = 0.2;

/// The speed of a run, on the time base on which it came.
#[derive(Clone, Debug)]
pub struct Speed<'a> {
    /// Where it comes from.
    pub from: SpeedFrom,
    /// One channel of them is [`ChannelRole::Speed`].
    pub signals: Cow<'a, Signals>,
}

impl<'a> Speed<'a> {
    /// The speed channel of one of the boxes, or else that of the receiver: a wheel or radar sensor is read with
    /// the other channels, a receiver tells its speed a little later and smoothed.
    pub fn of(mut boxes: impl Iterator<Item = &'a Signals>, gnss: Option<&GnssTable>) -> Option<Self> {
        if let Some(signals) = boxes.find(|signals| signals.channels.contains_key(&ChannelRole::Speed)) {
            return Some(Self { from: SpeedFrom::Channel, signals: Cow::Borrowed(signals) });
        }
        let gnss = gnss?;
        let channels = [(ChannelRole::Speed, gnss.speed_mps.clone())].into();
        let all = 0..gnss.t_s.len();
        let table = Table { t_s: gnss.t_s.clone(), channels, ..Table::default() };
        let signals = uniform_within(table, &[all], HOLE_STEPS).ok()?;
        Some(Self { from: SpeedFrom::Gnss, signals: Cow::Owned(signals) })
    }

    /// Its values.
    pub fn values(&self) -> &[f64] {
        self.signals.channels.get(&ChannelRole::Speed).map_or(&[], Vec::as_slice)
    }

    /// The way that it makes: its integral by trapezoids, stretch by stretch.
    pub fn travel(&self) -> Travel {
        let step_s = 1.0 / self.signals.rate_hz;
        let stretch = |segment: &Segment| {
            let speeds = self.values().get(segment.rows.clone()).unwrap_or(&[]).to_vec();
            let mut distance_m = vec![0.0; speeds.len()];
            for row in 1..speeds.len() {
                distance_m[row] = distance_m[row - 1] + 0.5 * (speeds[row - 1] + speeds[row]) * step_s;
            }
            Stretch { start_s: segment.start_s, step_s, speeds, distance_m }
        };
        Travel { stretches: self.signals.segments.iter().map(stretch).collect() }
    }
}

/// The way along the pass against run time, where the speed is known.
#[derive(Clone, Debug)]
pub struct Travel {
    stretches: Vec<Stretch>,
}

/// A stretch without a hole; the way counts from its own start.
#[derive(Clone, Debug)]
struct Stretch {
    start_s: f64,
    step_s: f64,
    speeds: Vec<f64>,
    distance_m: Vec<f64>,
}

impl Stretch {
    fn end_s(&self) -> f64 {
        self.start_s + self.step_s * self.speeds.len().saturating_sub(1) as f64
    }

    /// Way at a time within the stretch, the speed a straight line between two readings of it.
    fn distance_at(&self, t_s: f64) -> Option<f64> {
        let place = ((t_s - self.start_s) / self.step_s).max(0.0);
        let before = (place as usize).min(self.speeds.len().checked_sub(2)?);
        let since = (place - before as f64).min(1.0);
        let (v0, v1) = (self.speeds.get(before)?, self.speeds.get(before + 1)?);
        Some(self.distance_m.get(before)? + self.step_s * since * (v0 + 0.5 * since * (v1 - v0)))
    }
}

impl Travel {
    /// Way in m, and the time in s for which it is known, between two run times.
    pub fn between(&self, from_s: f64, to_s: f64) -> (f64, f64) {
        self.known(from_s, to_s)
            .fold((0.0, 0.0), |(m, s), (from_s, to_s, distance_m)| (m + distance_m, s + to_s - from_s))
    }

    /// Stretches that are known within two run times: from, to, way.
    fn known(&self, from_s: f64, to_s: f64) -> impl Iterator<Item = (f64, f64, f64)> + '_ {
        self.stretches.iter().filter_map(move |stretch| {
            let (from, to) = (from_s.max(stretch.start_s), to_s.min(stretch.end_s()));
            let distance_m = stretch.distance_at(to)? - stretch.distance_at(from)?;
            (to > from).then_some((from, to, distance_m))
        })
    }

    /// For a check: the straight way between the first and last fix of each known stretch within two run times,
    /// and the way by the speed over the same; sums, in m.
    pub fn by_places(&self, gnss: &GnssTable, from_s: f64, to_s: f64) -> (f64, f64) {
        let place = |row: usize| Some((*gnss.lat_deg.get(row)?, *gnss.lon_deg.get(row)?));
        let mut sums = (0.0, 0.0);
        for (from_s, to_s, _) in self.known(from_s, to_s) {
            let first = gnss.t_s.partition_point(|t| *t < from_s);
            let Some(last) = gnss.t_s.partition_point(|t| *t <= to_s).checked_sub(1) else { continue };
            let ends = gnss.t_s.get(first).zip(gnss.t_s.get(last)).filter(|_| first < last);
            if let (Some(one), Some(other), Some((begin_s, end_s))) = (place(first), place(last), ends) {
                sums.0 += straight_m(one, other);
                sums.1 += self.between(*begin_s, *end_s).0;
            }
        }
        sums
    }
}

/// Channels as a plow at one even speed would have sent them.
#[derive(Clone, Debug)]
pub struct Even {
    /// The even speed: way over time, m/s.
    pub speed_mps: f64,
    /// Distance from value to value, m.
    pub step_m: f64,
    /// Of each channel, gap-free stretches.
    pub channels: Vec<Vec<Vec<f64>>>,
}

impl Even {
    /// Values per second at the even speed.
    pub fn rate_hz(&self) -> f64 {
        self.speed_mps / self.step_m
    }
}

/// Channels at even steps of distance over segments of `base`, where the speed is known and the plow moves.
/// `None` where that is nowhere.
///
/// The step is twice the distance between rows at all but the fastest twentieth of them, and values between rows
/// are smoothed before any is left out (as boxes are joined), so that nothing folds back: what is slower than a
/// fifth of a cycle a step is kept as it is.
pub fn at_even_speed(
    travel: &Travel,
    base: &Signals,
    segments: &[Segment],
    channels: &[&[f64]],
) -> Option<Even> {
    let mut moving: Vec<(Range<usize>, Vec<f64>)> = Vec::new();
    for segment in segments {
        let last_s = segment.end_s(base.rate_hz);
        for stretch in &travel.stretches {
            for known in base.part(segment.start_s.max(stretch.start_s), last_s.min(stretch.end_s())) {
                split_where_it_stands(&known, base.rate_hz, stretch, &mut moving);
            }
        }
    }
    moving.retain(|(rows, _)| rows.len() > 1);
    let mut spacing_m: Vec<f64> =
        moving.iter().flat_map(|(_, way)| way.windows(2).map(|pair| pair[1] - pair[0])).collect();
    if spacing_m.is_empty() {
        return None;
    }
    let speed_mps = spacing_m.iter().sum::<f64>() / spacing_m.len() as f64 * base.rate_hz;
    let fast = spacing_m.len() * 19 / 20;
    let step_m = 2.0 * *spacing_m.select_nth_unstable_by(fast, f64::total_cmp).1;
    let mut all = vec![Vec::new(); channels.len()];
    for (rows, distance_m) in &moving {
        let (Some(first), Some(last)) = (distance_m.first(), distance_m.last()) else { continue };
        let count = ((last - first) / step_m) as usize + 1;
        let targets: Vec<f64> = (0..count).map(|step| first + step as f64 * step_m).collect();
        let here: Vec<&[f64]> = channels.iter().filter_map(|values| values.get(rows.clone())).collect();
        let even = resample::at(distance_m, &here, &targets, step_m);
        all.iter_mut().zip(even).for_each(|(stretches, values)| stretches.push(values));
    }
    Some(Even { speed_mps, step_m, channels: all })
}

/// Rows of a stretch at which the plow moves, with the way at each, appended to `moving`.
fn split_where_it_stands(
    known: &Segment,
    rate_hz: f64,
    stretch: &Stretch,
    moving: &mut Vec<(Range<usize>, Vec<f64>)>,
) {
    let mut current: Option<(Range<usize>, Vec<f64>)> = None;
    for row in known.rows.clone() {
        let Some(way) = stretch.distance_at(known.start_s + (row - known.rows.start) as f64 / rate_hz) else {
            continue;
        };
        match &mut current {
            Some((rows, ways)) if ways.last().is_some_and(|last| (way - last) * rate_hz >= STANDS_MPS) => {
                rows.end = row + 1;
                ways.push(way);
            }
            // The plow stood since the row before: a new stretch begins here.
            _ => moving.extend(current.replace((row..row + 1, vec![way]))),
        }
    }
    moving.extend(current);
}

#[cfg(test)]
mod tests;

/// Semi-major axis in m and flattening of the WGS-84 ellipsoid (NIMA TR8350.2, 3rd edition, table 3.1).
const AXIS_M: f64 = 6_378_137.0;
const FLATTENING: f64 = 1.0 / 298.257_223_563;

/// Distance between two places in m, each latitude and longitude in degrees.
///
/// By the radii of curvature of the ellipsoid at the middle latitude (meridian M = a(1−e²)/w³, prime vertical
/// N = a/w, w² = 1 − e² sin²φ; Snyder 1987, USGS Professional Paper 1395, 24–25). For a field's length: right to
/// 1e-6 up to some km. The great circle on a sphere, which lost, is off by up to 0.5 % with the direction.
pub fn straight_m(from_deg: (f64, f64), to_deg: (f64, f64)) -> f64 {
    let e2 = FLATTENING * (2.0 - FLATTENING);
    let middle = (0.5 * (from_deg.0 + to_deg.0)).to_radians();
    let w2 = 1.0 - e2 * middle.sin().powi(2);
    let north_m = AXIS_M * (1.0 - e2) / w2.powf(1.5) * (to_deg.0 - from_deg.0).to_radians();
    // Across the date line the short way is taken.
    let turn_deg = (to_deg.1 - from_deg.1 + 540.0).rem_euclid(360.0) - 180.0;
    let east_m = AXIS_M / w2.sqrt() * middle.cos() * turn_deg.to_radians();
    north_m.hypot(east_m)
}
