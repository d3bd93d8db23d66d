//! Every assumption on time is here.
//!
//! 1. A box counts µs in 32 bits since its boot: the count wraps every 71.6 min, and starts anew at a
//!    boot. Row numbers, not arrivals, say how much box time a gap took, so a gap longer than a wrap is
//!    resolved too.
//! 2. The host's monotonic clock never steps. Its wall clock may, and is used for names only; a step of
//!    it can mean that the host slept, when its monotonic clock stood still and the box's did not.
//! 3. Arrival says only "not later than now": bridges and schedulers delay. Pings bound the delay.
//! 4. Run time is the host's, from the start of the run, and is carried by the box clock from row to
//!    row: a straight line that is bent by at most 500 ppm towards the ping fit, so it always rises,
//!    never jumps, and the distance of two rows is right to 500 ppm whatever the host was doing.
//! 5. If box and host run apart by more than 1000 ppm (a box that is simulated faster than real time, a
//!    broken crystal), the two cannot both be followed: run time then follows the box clock alone.
//! 6. A box that answers no ping (one that only prints) is followed by its quickest arrivals, one a second:
//!    its rate is then known, and its offset is late by the least delay of the line.
//! 7. After a boot there is no more than the host's time between the readings before and after; if the host slept
//!    after it, run time goes on by the box's, as in 2.

mod fit;

pub use fit::{ClockFit, ClockLine, RoundTrip};

/// Largest bend of run time against the box clock.
pub const BEND_MAX: f64 = 500e-6;
/// An offset from the fit is worked off over this long, in µs (or longer, by [`BEND_MAX`]).
const WORK_OFF_US: f64 = 10e6;

/// A host that slept did so for longer than this, in µs.
const SLEPT_MIN_US: f64 = 250e3;
/// One that did not is where it was expected to be to this, in µs.
const AWAKE_MAX_US: f64 = 20e3;

/// Run time as a line of box time: bent while an offset is worked off, then straight on, so that a
/// small offset before a long gap does not become a large one behind it.
#[derive(Clone, Copy, Debug)]
struct Bend {
    box_us: u64,
    run_us: f64,
    slope: f64,
    slope_after: f64,
}

impl Bend {
    fn run_at(&self, box_us: u64) -> f64 {
        let since = signed_difference(box_us, self.box_us);
        let bent = since.min(WORK_OFF_US);
        self.run_us + self.slope * bent + self.slope_after * (since - bent)
    }
}

fn signed_difference(a: u64, b: u64) -> f64 {
    if a >= b { (a - b) as f64 } else { -((b - a) as f64) }
}

/// Takes box clocks of one box and gives run time.
#[derive(Clone, Debug, Default)]
pub struct RunClock {
    /// Host time at which the run began, in µs.
    pub started_us: Option<u64>,
    /// Host time minus run time after the host's monotonic clock was found to have slept, in µs.
    slept_us: f64,
    /// A sleep is to be taken up at the next round trip, or where box times are placed anew after a boot.
    sleep_pending: bool,
    fit: ClockFit,
    /// The fit of before that sleep, if it was one.
    fit_before: ClockFit,
    /// A ping was ever answered; if not, the fit rests on arrivals.
    pub answers: bool,
    bend: Option<Bend>,
    /// Last box clock seen, unwrapped, and the host's time then.
    pub seen: Option<(u64, u64)>,
    last_run_us: Option<u64>,
    last_box_us: u64,
    /// Box time of the row that the run begins with, in this boot.
    first_box_us: Option<u64>,
    /// Box seconds per host second if the clocks run apart.
    pub apart: Option<f64>,
}

impl RunClock {
    /// The run begins at this host time.
    pub fn start(&mut self, host_us: u64) {
        self.started_us.get_or_insert(host_us);
    }

    /// The box has booted: nothing is known of its clock; run time goes on by the host's.
    pub fn forget_box(&mut self) {
        self.fit = ClockFit::default();
        self.bend = None;
        self.seen = None;
        self.apart = None;
        self.fit_before = ClockFit::default();
        self.first_box_us = None;
    }

    /// The host's wall clock stepped: it may have slept. The next round trip shows by how much.
    pub fn host_may_have_slept(&mut self) {
        let fit = std::mem::take(&mut self.fit);
        if !self.sleep_pending {
            self.fit_before = fit;
        }
        self.apart = None;
        self.first_box_us = None;
        self.sleep_pending = true;
    }

    /// The 32-bit box clock as one that does not wrap, in µs: the value nearest to what is expected at
    /// this host time. Starts above 2^32, so that there is room below the first one.
    pub fn unwrap_us(&mut self, clock_us: u32, host_us: u64) -> u64 {
        let Some((box_us, then)) = self.seen else {
            let first = (1u64 << 32) + u64::from(clock_us);
            self.seen = Some((first, host_us));
            return first;
        };
        // Until they are found to run apart, their seconds are one.
        let elapsed = host_us.saturating_sub(then) as f64 * self.apart.unwrap_or(1.0);
        let unwrapped = nearest(clock_us, box_us + elapsed as u64);
        if unwrapped > box_us {
            self.seen = Some((unwrapped, host_us));
        }
        unwrapped
    }

    /// Takes note of a box clock that was unwrapped by row numbers.
    pub fn saw(&mut self, box_us: u64, host_us: u64) {
        self.seen = Some((box_us, host_us));
    }

    /// Takes an answered ping. If it is the first to show that the clocks run apart: box seconds per host second.
    pub fn round_trip(&mut self, box_us: u64, sent_us: u64, arrived_us: u64) -> Option<f64> {
        let host_us = 0.5 * (sent_us as f64 + arrived_us as f64);
        let took_us = arrived_us.saturating_sub(sent_us) as f64;
        self.fit.add(RoundTrip { box_us, host_us, took_us });
        self.answers = true;
        self.follow_fit()
    }

    /// The same of the quickest arrival of a while: what the box stamped at `box_us` came at `arrived_us`. Of no use
    /// for a box that answers pings.
    pub fn arrival(&mut self, box_us: u64, arrived_us: u64) -> Option<f64> {
        if self.answers {
            return None;
        }
        self.fit.add_arrival(box_us, arrived_us);
        self.follow_fit()
    }

    fn follow_fit(&mut self) -> Option<f64> {
        if self.apart.is_some() {
            return None;
        }
        if let Some(ratio) = self.fit.rates_apart() {
            self.apart = Some(ratio);
            if let Some(bend) = self.bend {
                let run_us = bend.run_at(self.last_box_us);
                self.bend = Some(Bend { box_us: self.last_box_us, run_us, slope: 1.0, slope_after: 1.0 });
            }
            return Some(ratio);
        }
        if let (Some(bend), Some(mut line), Some(started)) = (self.bend, self.fit.line, self.started_us) {
            // A sleep is over at the first round trip after it: box time has brought run time there, at the rate of
            // before, which the new fit does not know yet.
            let after_sleep = self.sleep_pending.then_some(line.box_us.round() as u64);
            let here = after_sleep.unwrap_or(self.last_box_us).max(self.last_box_us);
            let run_us = bend.run_at(here);
            // The first row is of the run: a fit that has it before its start is wrong by as much, as far as it can be.
            let unsure_us = self.fit.unsure_us().unwrap_or(0.0);
            let first_us = self.first_box_us.map(|first_us| first_us as f64);
            let host_run_us = |line: ClockLine| {
                let before_us = first_us.map_or(0.0, |first_us| started as f64 - line.host_at(first_us));
                line.host_at(here as f64) - started as f64 + before_us.clamp(0.0, unsure_us)
            };
            if self.sleep_pending {
                self.sleep_pending = false;
                let fit_before = std::mem::take(&mut self.fit_before);
                // Less is what the clocks have drifted apart: the wall clock was set and nobody slept.
                let off_us = (host_run_us(line) - self.slept_us - run_us).abs();
                if off_us >= SLEPT_MIN_US {
                    self.slept_us = host_run_us(line) - run_us;
                } else if off_us <= AWAKE_MAX_US {
                    self.fit.go_on(fit_before);
                    line = self.fit.line.unwrap_or(line);
                }
            }
            let behind_us = host_run_us(line) - self.slept_us - run_us;
            let bent = (line.rate + behind_us / WORK_OFF_US).clamp(-BEND_MAX, BEND_MAX);
            let straight = line.rate.clamp(-BEND_MAX, BEND_MAX);
            self.bend = Some(Bend { box_us: here, run_us, slope: 1.0 + bent, slope_after: 1.0 + straight });
        }
        None
    }

    /// Whether box times can be placed in run time.
    pub fn places(&self) -> bool {
        self.bend.is_some()
    }

    /// How long after the beginning of the run a box time is, in µs, at the latest that the fit allows.
    pub fn since_start_at_most_us(&self, box_us: u64) -> Option<f64> {
        let host_us = self.fit.line?.host_at(box_us as f64) + self.fit.unsure_us()?;
        Some(host_us - self.started_us? as f64)
    }

    /// Begins to place box times, `box_us` the first, if the run has begun: by the fit if there is one, else as if
    /// what came with the least delay so far had come at once (`host_less_box_us`, host time minus box time).
    pub fn begin(&mut self, box_us: u64, host_less_box_us: f64) {
        let Some(started) = self.started_us.map(|started| started as f64) else { return };
        let fitted = self.fit.line.filter(|_| self.apart.is_none());
        let host_us = fitted.map_or(box_us as f64 + host_less_box_us, |line| line.host_at(box_us as f64));
        // Run time begins at 0; until there is a fit, a box's rate is the host's.
        let earliest = self.last_run_us.map_or(0.0, |last| last as f64 + 1.0);
        if self.last_run_us.is_none() {
            self.first_box_us = Some(box_us);
        }
        let host_run_us = host_us - started - self.slept_us;
        let run_us = host_run_us.max(earliest);
        // The box booted and the host slept: it has shown more time since then than the host.
        if std::mem::take(&mut self.sleep_pending)
            && run_us - host_run_us >= SLEPT_MIN_US
            && self.last_run_us.is_some()
        {
            self.slept_us -= run_us - host_run_us;
        }
        let slope = fitted.map_or(1.0, |line| 1.0 + line.rate.clamp(-BEND_MAX, BEND_MAX));
        self.bend = Some(Bend { box_us, run_us, slope, slope_after: slope });
        self.last_box_us = box_us;
    }

    /// Run time of a row, in whole µs: always more than that of the row before. `None` before
    /// [`Self::begin`].
    pub fn place_row(&mut self, box_us: u64) -> Option<u64> {
        let run_us = self.bend?.run_at(box_us).round() as u64;
        let run_us = self.last_run_us.map_or(run_us, |last| run_us.max(last + 1));
        self.last_run_us = Some(run_us);
        self.last_box_us = box_us;
        Some(run_us)
    }

    /// Run time of a box time that need not be a row's, in µs.
    pub fn run_at(&self, box_us: u64) -> Option<u64> {
        self.bend.map(|bend| bend.run_at(box_us).round() as u64)
    }

    /// Run time of something that happened at the host, in µs: never before the last row; 0 before the run.
    pub fn run_at_host(&self, host_us: u64) -> u64 {
        let last = self.last_run_us();
        match self.started_us {
            Some(started) if self.apart.is_none() => {
                last.max((signed_difference(host_us, started) - self.slept_us).max(0.0) as u64)
            }
            _ => last,
        }
    }

    /// Run time of the last row, in µs; before the first, 0, where the run begins.
    pub fn last_run_us(&self) -> u64 {
        self.last_run_us.unwrap_or(0)
    }

    /// The fit of this boot, if pings were answered or rows came for a while.
    pub fn line(&self) -> Option<ClockLine> {
        self.fit.line
    }

    /// How far a box time that came at this host time is off where many round trips show the clock to be, in µs of the
    /// host.
    pub fn off_us(&self, box_us: u64, host_us: u64) -> Option<f64> {
        let line = self.fit.line.filter(|_| self.apart.is_none() && self.fit.is_known())?;
        Some(line.host_at(box_us as f64) - host_us as f64)
    }

    /// What the box's clock stood at when the run began, in µs, by the fit of its last boot; it may have booted
    /// since, and is then taken back to a time before.
    pub fn box_at_start_us(&self) -> Option<u32> {
        let (line, started_us) = (self.fit.line?, self.started_us? as f64);
        let box_us = line.box_us + (started_us - line.host_us) / (1.0 + line.rate);
        // Its low 32 bits are the box's own; what is unwrapped begins above 2^32 and so stays above 0.
        Some(box_us.round() as u64 as u32)
    }
}

/// The value nearest to `expected` whose low 32 bits are `clock_us`.
pub fn nearest(clock_us: u32, expected: u64) -> u64 {
    // Truncation is the point: the difference of the low halves, as a signed number.
    let off = clock_us.wrapping_sub(expected as u32) as i32;
    expected.saturating_add_signed(i64::from(off))
}

#[cfg(test)]
mod tests;
