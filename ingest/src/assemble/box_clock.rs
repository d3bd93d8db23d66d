//! What shows the box's clock: answers to pings, and the arrivals of its rows.

use crate::clock::RunClock;
use firmware_protocol::Time;
use std::collections::VecDeque;

/// Pings whose answers are waited for.
const PINGS_WAITED_FOR: usize = 16;
/// An answer that is further behind the last clock that was seen, or further off the clock that is known, is of another
/// boot, in µs.
const BOOTED_US: u64 = 1_000_000;
/// How long the quickest arrival is looked for, in µs of the host.
const WINDOW_US: u64 = 1_000_000;

/// By how much a row may seem to be from before the run, in µs: so well are the clocks known to each other.
const START_SLACK_US: f64 = 5e3;

#[derive(Clone, Copy, Debug)]
struct Quickest {
    box_us: u64,
    host_us: u64,
}

impl Quickest {
    fn delay_us(self) -> i128 {
        i128::from(self.host_us) - i128::from(self.box_us)
    }
}

/// Arrivals since the boot.
#[derive(Clone, Copy, Debug, Default)]
struct Arrivals {
    from_us: u64,
    quickest: Option<Quickest>,
}

impl Arrivals {
    /// Takes what the box stamped at `box_us` and what came at `host_us`; gives the two for the quickest of
    /// the second before when a new one begins.
    fn take(&mut self, box_us: u64, host_us: u64) -> Option<(u64, u64)> {
        let here = Quickest { box_us, host_us };
        let Some(before) = self.quickest else {
            self.begin(here);
            return None;
        };
        if host_us.saturating_sub(self.from_us) < WINDOW_US {
            if here.delay_us() < before.delay_us() {
                self.quickest = Some(here);
            }
            return None;
        }
        self.begin(here);
        Some((before.box_us, before.host_us))
    }

    fn begin(&mut self, here: Quickest) {
        *self = Self { from_us: here.host_us, quickest: Some(here) };
    }
}

/// The clock of the box with what it is known by.
#[derive(Clone, Debug, Default)]
pub(super) struct BoxClock {
    pub run: RunClock,
    /// Tokens and host times of pings, the oldest first.
    pings: VecDeque<(u32, u64)>,
    arrivals: Arrivals,
    /// Least host time minus box time of a frame of rows since the boot, in µs.
    least_delay_us: Option<f64>,
}

impl BoxClock {
    /// The box has booted: nothing is known of its clock.
    pub(super) fn forget_box(&mut self) {
        self.run.forget_box();
        self.pings.clear();
        self.arrivals = Arrivals::default();
        self.least_delay_us = None;
    }

    /// The host's wall clock stepped: it may have slept, and nothing from before is held against what comes after.
    pub(super) fn host_may_have_slept(&mut self) {
        self.run.host_may_have_slept();
        self.pings.clear();
        self.arrivals = Arrivals::default();
    }

    pub(super) fn ping_sent(&mut self, token: u32, host_us: u64) {
        if self.pings.len() == PINGS_WAITED_FOR {
            self.pings.pop_front();
        }
        self.pings.push_back((token, host_us));
    }

    /// Takes the answer to a ping; that to none is let go. If it shows that the clocks run apart: box seconds per host
    /// second.
    pub(super) fn on_answer(&mut self, time: Time, host_us: u64) -> Option<f64> {
        let at = self.pings.iter().position(|(token, _)| *token == time.token)?;
        let (_, sent_us) = self.pings.drain(..=at).next_back()?;
        let seen = self.run.seen;
        let box_us = self.run.unwrap_us(time.clock_us, host_us);
        // No clock goes back: the box has booted, which its hello, status or rows will tell. Back by most of a wrap
        // looks like ahead.
        let is_behind = seen.is_some_and(|(seen_us, _)| box_us + BOOTED_US < seen_us);
        let slack_us = (BOOTED_US + host_us.saturating_sub(sent_us)) as f64;
        if is_behind || self.run.off_us(box_us, host_us).is_some_and(|off_us| off_us.abs() > slack_us) {
            self.run.seen = seen;
            return None;
        }
        self.run.round_trip(box_us, sent_us, host_us)
    }

    /// What the box stamped at `box_us` had come by then.
    pub(super) fn came_by(&mut self, box_us: u64, host_us: u64) {
        let delay_us = host_us as f64 - box_us as f64;
        self.least_delay_us = Some(self.least_delay_us.map_or(delay_us, |least| least.min(delay_us)));
    }

    /// The same of the box time of the last row of a frame that came.
    pub(super) fn on_rows(&mut self, last_box_us: u64, host_us: u64) -> Option<f64> {
        self.run.saw(last_box_us, host_us);
        self.came_by(last_box_us, host_us);
        let (box_us, arrived_us) = self.arrivals.take(last_box_us, host_us)?;
        self.run.arrival(box_us, arrived_us)
    }

    /// Whether box times can be placed in run time: by the first answer to a ping, or without one by arrival if
    /// `at_once`.
    pub(super) fn can_place(&self, at_once: bool) -> bool {
        self.run.places() || (self.least_delay_us.is_some() && (at_once || self.run.line().is_some()))
    }

    /// Whether a row was sampled before the run began for certain, by the fit, or by the quickest arrival where there is none. Of a
    /// clock that runs apart it cannot be told: what the quickest arrival shows is of that moment only.
    pub(super) fn is_before_start(&self, box_us: u64) -> bool {
        if self.run.apart.is_some() {
            return false;
        }
        let by_arrival = || {
            let (delay_us, started_us) = (self.least_delay_us?, self.run.started_us?);
            Some(box_us as f64 + delay_us - started_us as f64)
        };
        let since_us = self.run.since_start_at_most_us(box_us).or_else(by_arrival);
        since_us.is_some_and(|since_us| since_us < -START_SLACK_US)
    }

    /// Begins to place box times, `box_us` the first, if none is placed yet.
    pub(super) fn place_from(&mut self, box_us: u64) {
        if let (Some(delay_us), false) = (self.least_delay_us, self.run.places()) {
            self.run.begin(box_us, delay_us);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_second_gives_its_quickest() {
        let mut arrivals = Arrivals::default();
        let late = |n: u64| 5_000 + 700 * (n * 7 % 10);
        let taken: Vec<_> =
            (0..35).filter_map(|n| arrivals.take(900_000_000 + 100_000 * n, 100_000 * n + late(n))).collect();
        assert_eq!(taken, [(900_000_000, 5_000), (901_000_000, 1_005_000), (902_000_000, 2_005_000)]);
    }
}
