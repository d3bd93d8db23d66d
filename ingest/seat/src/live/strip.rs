//! The last 20 s of load and depth, thinned so that a short lift still shows.

use serde::{Serialize, Serializer};
use std::collections::VecDeque;

/// How far back the strip goes, in µs.
const LASTS_US: u64 = 20_000_000;
/// Of the rows of so many µs the one with the least load and the one with the most are kept: 50 points a second.
const BIN_US: u64 = 40_000;
/// Points at most, whatever times the rows claim.
const POINTS_MAX: usize = (LASTS_US / BIN_US) as usize * 2 + 2;

/// A point of the strip; written as `[t_s, load_n, depth_mm]`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StripPoint {
    /// Live time in s.
    pub t_s: f64,
    /// Load in N.
    pub load_n: Option<f64>,
    /// Depth in mm.
    pub depth_mm: Option<f64>,
}

impl Serialize for StripPoint {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        (self.t_s, self.load_n, self.depth_mm).serialize(to)
    }
}

/// A row on its way into the strip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct StripRow {
    pub t_us: u64,
    pub load_n: Option<f64>,
    pub depth_mm: Option<f64>,
}

impl StripRow {
    /// What the rows of a bin are told apart by: the load, or the depth where there is no load.
    fn height(&self) -> Option<f64> {
        self.load_n.or(self.depth_mm)
    }

    fn point(&self) -> StripPoint {
        StripPoint { t_s: self.t_us as f64 / 1e6, load_n: self.load_n, depth_mm: self.depth_mm }
    }
}

/// The strip.
#[derive(Debug, Default)]
pub(super) struct Strip {
    points: VecDeque<StripPoint>,
    /// How many points there have been: the number of the next one.
    count: u64,
    /// Which bin is being filled, and its least and greatest row.
    bin: Option<(u64, StripRow, StripRow)>,
}

impl Strip {
    /// Takes in a row.
    pub fn push(&mut self, row: StripRow) {
        let Some(height) = row.height() else { return };
        let number = row.t_us / BIN_US;
        match &mut self.bin {
            Some((bin, least, greatest)) if *bin == number => {
                if least.height().is_none_or(|least| height < least) {
                    *least = row;
                }
                if greatest.height().is_none_or(|greatest| height > greatest) {
                    *greatest = row;
                }
            }
            _ => {
                self.close_bin();
                self.bin = Some((number, row, row));
            }
        }
    }

    fn close_bin(&mut self) {
        let Some((_, least, greatest)) = self.bin.take() else { return };
        let (first, second) = if least.t_us <= greatest.t_us { (least, greatest) } else { (greatest, least) };
        self.put(first);
        if second.t_us != first.t_us {
            self.put(second);
        }
    }

    fn put(&mut self, row: StripRow) {
        let point = row.point();
        let begin_s = point.t_s - LASTS_US as f64 / 1e6;
        while self.points.len() >= POINTS_MAX || self.points.front().is_some_and(|first| first.t_s < begin_s)
        {
            self.points.pop_front();
        }
        self.points.push_back(point);
        self.count += 1;
    }

    /// The points from number `from` to before number `to`, as far as they are still there, and the number after the
    /// last one there is.
    pub fn points(&self, from: u64, to: u64) -> (Vec<StripPoint>, u64) {
        let first = self.count - self.points.len() as u64;
        let skip = usize::try_from(from.saturating_sub(first)).unwrap_or(usize::MAX);
        let take = usize::try_from(to.saturating_sub(from.max(first))).unwrap_or(usize::MAX);
        (self.points.iter().skip(skip).take(take).copied().collect(), self.count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(t_us: u64, load_n: f64) -> StripRow {
        StripRow { t_us, load_n: Some(load_n), depth_mm: Some(180.0) }
    }

    fn all(strip: &Strip) -> Vec<StripPoint> {
        strip.points(0, u64::MAX).0
    }

    #[test]
    fn a_lift_of_one_row_in_a_thousand_shows() {
        let mut strip = Strip::default();
        for n in 0..30_000_u64 {
            strip.push(row(n * 1000, if n == 25_003 { 0.0 } else { 700.0 + (n % 7) as f64 }));
        }
        let points = all(&strip);
        assert!(points.len() <= POINTS_MAX && points.len() > 900, "{}", points.len());
        assert_eq!(points.iter().filter(|point| point.load_n == Some(0.0)).count(), 1);
        assert!(points.iter().any(|point| point.load_n == Some(706.0)), "the greatest shows as well");
        assert!(points.windows(2).all(|two| two[0].t_s < two[1].t_s), "in the order of time");
        let (first, last) = (points[0].t_s, points[points.len() - 1].t_s);
        assert!((last - first - 20.0).abs() < 0.1, "{first} to {last}");
        assert!(points.windows(51).all(|some| some[50].t_s - some[0].t_s > 0.95), "50 a second at most");
    }

    #[test]
    fn batches_join_without_a_gap_or_a_point_twice() {
        let (mut strip, mut seen, mut next) = (Strip::default(), Vec::new(), 0);
        for n in 0..4000_u64 {
            strip.push(row(n * 5000, (n % 13) as f64));
            if n % 17 == 0 {
                let (points, after) = strip.points(next, u64::MAX);
                seen.extend(points);
                next = after;
            }
        }
        seen.extend(strip.points(next, u64::MAX).0);
        assert_eq!(seen, all(&strip), "20 s are all still there");
        let (before, _) = strip.points(0, 100);
        let (rest, _) = strip.points(100, u64::MAX);
        assert_eq!([before, rest].concat(), seen);
    }

    #[test]
    fn times_that_jump_or_stand_still_do_not_make_it_grow() {
        let mut strip = Strip::default();
        for n in 0..100_000_u64 {
            strip.push(row((n % 2) * 10 * BIN_US, n as f64));
            strip.push(StripRow { t_us: n, load_n: None, depth_mm: None });
        }
        assert!(all(&strip).len() <= POINTS_MAX);
    }

    #[test]
    fn without_a_load_it_is_thinned_by_depth() {
        let mut strip = Strip::default();
        for n in 0..200_u64 {
            let depth_mm = Some(if n == 57 { 90.0 } else { 180.0 });
            strip.push(StripRow { t_us: n * 1000, load_n: None, depth_mm });
        }
        assert!(all(&strip).iter().any(|point| point.depth_mm == Some(90.0)));
        assert_eq!(serde_json::to_string(&all(&strip)[0]).unwrap(), "[0.0,null,180.0]");
    }
}
