//! The fit of the box clock to the host's from round trips of pings.
//!
//! A box stamps a ping between its sending and the coming of the answer, so the middle of the two is
//! the host's time at the stamp to within half a round trip, whatever the delays were: short round
//! trips are certain, long ones say little, and no delay that a USB bridge adds can bias by more.

/// One answered ping.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundTrip {
    /// Box clock at the stamp, unwrapped, in µs.
    pub box_us: u64,
    /// Host time in the middle between sending and answer, in µs.
    pub host_us: f64,
    /// From sending to answer, in µs.
    pub took_us: f64,
}

/// What the fit rests on: a window of this many round trips (two minutes at one a second).
const ROUND_TRIPS_KEPT: usize = 120;
/// After so many round trips a clock is known: those of a burst, in which clocks that run far apart show.
const ROUND_TRIPS_KNOWN: usize = 5;
/// Spread of a stamp even for the shortest round trip: scheduling on the host, in µs.
const STAMP_SD_US: f64 = 50.0;
/// How much later than the quickest way the quickest of a second's arrivals may be: USB bridges hand bytes on
/// every 16 ms unless told otherwise (common practice, no source). In µs.
const ARRIVAL_LATE_US: f64 = 20_000.0;
/// What is known of a box's crystal before any measurement: its rate is right to this SD. Common
/// practice (ceramic resonators and crystals of small boards), no source.
const RATE_SD: f64 = 1e-4;
/// Beyond this, two clocks do not run at the same rate: no crystal is as wrong.
const RATE_APART: f64 = 1e-3;

/// Of what a rate would bring it by, each half of a stretch brings the clocks apart by more than this share.
const FAIR_SHARE: f64 = 0.5;

/// By how much more the box's clock went on than the host's between two round trips, all in µs.
#[derive(Clone, Copy, Debug)]
struct Apart {
    by_us: f64,
    host_us: f64,
    /// So much the two round trips could explain.
    unsure_us: f64,
}

impl Apart {
    fn between(from: RoundTrip, to: RoundTrip) -> Self {
        let host_us = to.host_us - from.host_us;
        Self {
            by_us: to.box_us.saturating_sub(from.box_us) as f64 - host_us,
            host_us,
            unsure_us: 0.5 * (from.took_us + to.took_us) + 4.0 * STAMP_SD_US,
        }
    }
}

/// Box clock against host time: `host − box` as a straight line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClockLine {
    /// Box time about which the line is written, in µs.
    pub box_us: f64,
    /// Host time at that box time, in µs.
    pub host_us: f64,
    /// Host µs per box µs, less 1.
    pub rate: f64,
    /// Weighted SD of the round trips about the line, in µs.
    pub residual_us: f64,
}

impl ClockLine {
    /// Host time at a box time, both in µs.
    pub fn host_at(&self, box_us: f64) -> f64 {
        let since = box_us - self.box_us;
        self.host_us + since + self.rate * since
    }
}

/// The round trips of one boot of a box; of a box that answers no ping, arrivals in their place.
#[derive(Clone, Debug, Default)]
pub struct ClockFit {
    kept: std::collections::VecDeque<RoundTrip>,
    /// The first round trip: the longest base for comparing the rates.
    first: Option<RoundTrip>,
    /// The fitted line; `None` before the first round trip.
    pub line: Option<ClockLine>,
    /// What is kept are arrivals.
    of_arrivals: bool,
}

impl ClockFit {
    /// Adds a round trip and fits anew: arrivals are of no use from then on.
    pub fn add(&mut self, trip: RoundTrip) {
        if self.of_arrivals {
            *self = Self::default();
        }
        self.add_point(trip);
    }

    /// Adds that something which the box stamped at `box_us` came at `host_us`, with less delay than all else
    /// around it. A straight line through such points has the box's rate; its offset is late by the least
    /// delay of the line, which nothing can show without pings.
    pub fn add_arrival(&mut self, box_us: u64, host_us: u64) {
        self.of_arrivals = true;
        self.add_point(RoundTrip { box_us, host_us: host_us as f64, took_us: ARRIVAL_LATE_US });
    }

    /// Whether there were round trips enough to show clocks that run apart.
    pub fn is_known(&self) -> bool {
        !self.of_arrivals && self.kept.len() >= ROUND_TRIPS_KNOWN
    }

    /// By how much a host time of the line may be off, in µs: half the shortest round trip, for which of its two ways
    /// took longer nothing can show, and what the round trips scatter about the line. A line of arrivals is late only.
    pub fn unsure_us(&self) -> Option<f64> {
        Some(self.line?.residual_us + 0.5 * self.shortest_us())
    }

    /// The shortest round trip; 0 of arrivals, which have none.
    fn shortest_us(&self) -> f64 {
        if self.of_arrivals {
            return 0.0;
        }
        self.kept.iter().map(|trip| trip.took_us).fold(f64::INFINITY, f64::min)
    }

    /// Takes what is known from before; what came since is added to it.
    pub fn go_on(&mut self, before: Self) {
        if before.of_arrivals != self.of_arrivals {
            return;
        }
        for trip in std::mem::replace(self, before).kept {
            self.add_point(trip);
        }
    }

    fn add_point(&mut self, trip: RoundTrip) {
        if self.kept.len() == ROUND_TRIPS_KEPT {
            self.kept.pop_front();
        }
        self.kept.push_back(trip);
        self.first.get_or_insert(trip);
        self.line = self.fitted();
    }

    /// Box seconds per host second if the two clocks are apart by more than [`RATE_APART`] for certain,
    /// that is by more than the round trips could explain, and it shows before a round trip in the middle as
    /// it does after it: all of it in one half is no rate but a step, as by a boot that nothing else has told yet.
    pub fn rates_apart(&self) -> Option<f64> {
        let (first, last) = (self.first?, *self.kept.back()?);
        let whole = Apart::between(first, last);
        if whole.host_us <= 0.0 || whole.by_us.abs() <= RATE_APART * whole.host_us + whole.unsure_us {
            return None;
        }
        let from_middle = |trip: &RoundTrip| (trip.host_us - first.host_us.midpoint(last.host_us)).abs();
        let between = self.kept.iter().filter(|trip| first.host_us < trip.host_us && **trip != last);
        let middle = *between.min_by(|a, b| from_middle(a).total_cmp(&from_middle(b)))?;
        let is_in = |half: Apart| {
            let fair_us = whole.by_us * half.host_us / whole.host_us;
            half.by_us * whole.by_us.signum() > half.unsure_us.max(FAIR_SHARE * fair_us.abs())
        };
        let is_rate = is_in(Apart::between(first, middle)) && is_in(Apart::between(middle, last));
        is_rate.then_some(1.0 + whole.by_us / whole.host_us)
    }

    /// Weighted least squares of `host − box` on box time, with the rate held near 0 by what is known
    /// of crystals: with a second of pings the rate is theirs, with a minute of them it is measured.
    fn fitted(&self) -> Option<ClockLine> {
        let last = self.kept.back()?;
        // The shortest round trip is as good as any can be; an arrival is no better than any other.
        let shortest = self.shortest_us();
        // A stamp lies anywhere in its round trip: SD of a uniform distribution, width / sqrt(12).
        let weight = |trip: &RoundTrip| {
            let spread = (trip.took_us - shortest) / 12f64.sqrt();
            1.0 / (STAMP_SD_US * STAMP_SD_US + spread * spread)
        };
        let offset_last = last.host_us - last.box_us as f64;
        let point = |trip: &RoundTrip| {
            let x = trip.box_us as f64 - last.box_us as f64;
            (weight(trip), x, (trip.host_us - trip.box_us as f64) - offset_last)
        };
        let (mut w, mut wx, mut wy) = (0.0, 0.0, 0.0);
        for (weight, x, y) in self.kept.iter().map(point) {
            w += weight;
            wx += weight * x;
            wy += weight * y;
        }
        let (mean_x, mean_y) = (wx / w, wy / w);
        let (mut sxx, mut sxy) = (1.0 / (RATE_SD * RATE_SD), 0.0);
        for (weight, x, y) in self.kept.iter().map(point) {
            sxx += weight * (x - mean_x) * (x - mean_x);
            sxy += weight * (x - mean_x) * (y - mean_y);
        }
        let rate = sxy / sxx;
        let squares: f64 = self
            .kept
            .iter()
            .map(point)
            .map(|(weight, x, y)| weight * ((y - mean_y) - rate * (x - mean_x)).powi(2))
            .sum();
        let box_us = last.box_us as f64 + mean_x;
        Some(ClockLine {
            box_us,
            host_us: box_us + offset_last + mean_y,
            rate,
            residual_us: (squares / w).sqrt(),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};

    /// Pings once a second; the delays to and fro are uniform up to `jitter_us` each.
    fn fit(rate: f64, jitter_us: f64, pings: u32, seed: u64) -> ClockFit {
        let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let mut fit = ClockFit::default();
        for k in 0..pings {
            let sent = 1e6 * f64::from(k) + 5e6;
            let stamp = sent + random.random_range(0.0..jitter_us);
            let came = stamp + random.random_range(0.0..jitter_us);
            let box_us = (7e6 + stamp * (1.0 + rate)).round() as u64;
            fit.add(RoundTrip { box_us, host_us: 0.5 * (sent + came), took_us: came - sent });
        }
        fit
    }

    #[test]
    fn a_drift_is_found_and_host_time_is_known_through_jitter() {
        for seed in 0..20 {
            let line = fit(50e-6, 3000.0, 60, seed).line.unwrap();
            assert!((line.rate + 50e-6).abs() < 20e-6, "rate {} of seed {seed}", line.rate);
            let stamp = 64.5e6;
            let error = line.host_at(7e6 + stamp * (1.0 + 50e-6)) - stamp;
            assert!(error.abs() < 1000.0, "off by {error} us, seed {seed}");
        }
    }

    #[test]
    fn one_round_trip_gives_an_offset_and_claims_no_rate() {
        let line = fit(50e-6, 200.0, 1, 3).line.unwrap();
        assert_eq!(line.rate, 0.0);
    }

    #[test]
    fn clocks_that_are_apart_are_told_from_jitter() {
        for seed in 0..20 {
            assert_eq!(fit(400e-6, 3000.0, 30, seed).rates_apart(), None);
            let ratio = fit(19.0, 500.0, 3, seed).rates_apart().unwrap();
            assert!((ratio - 20.0).abs() < 0.1, "{ratio}");
            let ratio = fit(-0.5, 500.0, 3, seed).rates_apart().unwrap();
            assert!((ratio - 0.5).abs() < 0.01, "{ratio}");
        }
    }

    /// Found: of a box that had booted twice within two seconds, whose rows did not show the second boot yet.
    #[test]
    fn a_clock_that_steps_is_not_taken_for_one_that_runs_apart() {
        let trip = |box_ms: u64, host_ms: u64, took_us: f64| RoundTrip {
            box_us: 5_000_000_000 + 1_000 * box_ms,
            host_us: 1e3 * host_ms as f64,
            took_us,
        };
        for took_us in [100.0, 15_000.0] {
            for burst in 1..6 {
                let mut fit = ClockFit::default();
                let before = (0..burst).map(|k| trip(100 + 30 * k, 1_000 + 30 * k, took_us));
                before.for_each(|trip| fit.add(trip));
                // By 1.8 s of the host no time has passed for the box.
                for k in 0..60 {
                    fit.add(trip(100 + 1_000 * k, 2_800 + 1_000 * k, took_us));
                    assert_eq!(fit.rates_apart(), None, "{burst} before, {k} after");
                }
            }
        }
    }

    /// A crystal that is off by 2000 ppm is told from round trips of 15 ms in 20 s, and from arrivals in 25.
    #[test]
    fn a_clock_that_runs_apart_by_little_is_told_in_time() {
        let told_after_s = |took_us: f64| {
            (1..200u32).find(|seconds| {
                let mut fit = ClockFit::default();
                for k in 0..=*seconds {
                    let host_us = 1e6 * f64::from(k);
                    fit.add(RoundTrip { box_us: (7e6 + 1.002 * host_us).round() as u64, host_us, took_us });
                }
                fit.rates_apart().is_some()
            })
        };
        assert!(told_after_s(15_000.0).unwrap() <= 20);
        assert!(told_after_s(ARRIVAL_LATE_US).unwrap() <= 25);
    }

    /// The quickest arrival of each second, up to 10 ms late: the drift of a crystal is found in a minute or
    /// two, one that is far off is told from jitter, and the first ping answered takes their place.
    #[test]
    fn arrivals_show_the_rate() {
        let arrivals = |rate: f64, seconds: u32, seed: u64| {
            let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
            let mut fit = ClockFit::default();
            for k in 1..=seconds {
                let stamp = 1e6 * f64::from(k);
                let came = stamp + 2_000.0 + random.random_range(0.0..10_000.0);
                fit.add_arrival((7e6 + stamp * (1.0 + rate)).round() as u64, came.round() as u64);
            }
            fit
        };
        for seed in 0..20 {
            let line = arrivals(200e-6, 120, seed).line.unwrap();
            assert!((line.rate + 200e-6).abs() < 40e-6, "rate {} of seed {seed}", line.rate);
            assert!((1_500.0..4_500.0).contains(&line.residual_us), "{}", line.residual_us);
            assert_eq!(arrivals(400e-6, 120, seed).rates_apart(), None);
            let ratio = arrivals(5e-3, 20, seed).rates_apart().unwrap();
            assert!((ratio - 1.005).abs() < 1e-3, "{ratio}");
            let mut fit = arrivals(0.0, 20, seed);
            fit.add(RoundTrip { box_us: 28_000_000, host_us: 21e6, took_us: 300.0 });
            assert_eq!((fit.kept.len(), fit.line.unwrap().residual_us), (1, 0.0));
        }
    }
}
