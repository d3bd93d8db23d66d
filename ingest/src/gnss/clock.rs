//! Where a receiver's moments lie in run time.
//!
//! 1. A tag is a UTC time of day. It says when the fix was, to the µs; arrival says only "not later than
//!    now". The least arrival less tag of the last half to whole minute is taken for the truth: so serial
//!    and scheduling jitter is gone, and the drift of the host's clock is followed. What is left in it is
//!    the constant part of the receiver's own latency, typically 0.05 to 0.3 s (common practice, no
//!    source): nothing on this port can show it, so it stays.
//! 2. That offset is followed by at most 1 % (10 ms in a second), so run time rises and does not jump.
//! 3. Tags wrap at midnight: the day is chosen so that the tag is nearest to what is expected.
//! 4. A receiver's time may step: at its first fix, or when it learns the leap seconds. An epoch that comes
//!    half a second *before* the least delay allows is a step at once: nothing comes early. One that comes
//!    late may be a host that was busy; if the lateness stays the same for two seconds, it is a step.
//! 5. After a step of the host's wall clock, epochs that seem to come early mean that the host slept: run
//!    time goes on by the tags, as it goes on by a box's clock.

const DAY_US: i64 = 86_400_000_000;
/// A tag that is off by more than this has stepped, in µs.
const STEP_US: i64 = 500_000;
/// Late epochs are a step if they stay equally late, to half of this, for this long by the host.
const LATE_SPREAD_US: i64 = 250_000;
const LATE_FOR_US: i64 = 2_000_000;
/// The least delay is that of the present and the last stretch of this length, in µs.
const STRETCH_US: i64 = 30_000_000;
/// Run time follows the offset by at most this.
const BEND_MAX: f64 = 0.01;
/// For so long after a step of the host's wall clock an early epoch means that the host slept, in µs.
const SLEEP_SHOWS_WITHIN_US: i64 = 5_000_000;

/// The least of late values, so that an old one is forgotten.
#[derive(Clone, Copy, Debug)]
struct Least {
    before: Option<i64>,
    now: i64,
    since_us: i64,
}

impl Least {
    fn of(first: i64, host_us: i64) -> Self {
        Self { before: None, now: first, since_us: host_us }
    }

    fn add(&mut self, value: i64, host_us: i64) {
        if host_us - self.since_us >= STRETCH_US {
            *self = Self { before: Some(self.now), now: value, since_us: host_us };
        }
        self.now = self.now.min(value);
    }

    fn get(&self) -> i64 {
        self.before.map_or(self.now, |before| before.min(self.now))
    }
}

/// Epochs that came late, equally late so far.
#[derive(Clone, Copy, Debug)]
struct Late {
    since_us: i64,
    least: i64,
    most: i64,
}

/// An epoch in run time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// Run time in µs, below 0 for an epoch of before the run that came in it; `None` before the run began.
    pub run_us: Option<i64>,
    /// The receiver's time has stepped by this much, forward +, in µs.
    pub step_us: Option<i64>,
}

/// Takes the tags of one receiver and gives run time.
#[derive(Clone, Copy, Debug, Default)]
pub struct TagClock {
    pub started_us: Option<i64>,
    /// Run time less the host's, from the start, after the host's monotonic clock was found to have slept.
    slept_us: i64,
    may_have_slept_us: Option<i64>,
    /// The last tag, without wraps, and the host's time then.
    last: Option<(i64, i64)>,
    least: Option<Least>,
    /// What is added to a tag: follows the least delay.
    offset_us: Option<f64>,
    late: Option<Late>,
    excess_squares: f64,
    excess_count: u64,
}

impl TagClock {
    /// The run begins at this host time.
    pub fn start(&mut self, host_us: u64) {
        self.started_us.get_or_insert(signed(host_us));
    }

    /// The host's wall clock stepped: it may have slept. The next epochs show by how much.
    pub fn host_may_have_slept(&mut self, host_us: u64) {
        self.may_have_slept_us = Some(signed(host_us));
    }

    /// Run time of something that happened at the host, in µs, not before its beginning; `None` before the run
    /// began.
    pub fn run_at_host(&self, host_us: u64) -> Option<u64> {
        let since = signed(host_us) + self.slept_us - self.started_us?;
        Some(since.max(0).unsigned_abs())
    }

    /// Places an epoch by its tag, in µs of the day, that came at this host time.
    pub fn place(&mut self, tag_of_day_us: u64, arrived_us: u64) -> Placed {
        let host_us = signed(arrived_us);
        let tag_us = self.unwrap_tag(tag_of_day_us, host_us);
        let mut delay_us = host_us + self.slept_us - tag_us;
        let step_us = self.step(&mut delay_us, host_us);
        if step_us.is_some() {
            (self.least, self.offset_us, self.late) = (None, None, None);
        }
        let least = self.least.get_or_insert(Least::of(delay_us, host_us));
        least.add(delay_us, host_us);
        let target_us = least.get() as f64;
        // Before the first epoch nothing has passed that the offset could have followed.
        let passed_us = self.last.map_or(0, |(tag, _)| (tag_us - tag).max(0));
        let offset_us = match self.offset_us {
            // Before the run begins nothing has been placed that must be kept to.
            Some(offset_us) if self.started_us.is_some() => {
                let most = BEND_MAX * passed_us as f64;
                offset_us + (target_us - offset_us).clamp(-most, most)
            }
            _ => target_us,
        };
        self.offset_us = Some(offset_us);
        self.last = Some((tag_us, host_us));
        if self.started_us.is_some() {
            self.excess_squares += (delay_us as f64 - offset_us).powi(2);
            self.excess_count += 1;
        }
        let run_at = |started_us| (tag_us as f64 + offset_us - started_us as f64).round() as i64;
        Placed { run_us: self.started_us.map(run_at), step_us }
    }

    /// RMS of how much later than placed the epochs came, in ms: the jitter that was taken out.
    pub fn residual_ms(&self) -> Option<f64> {
        (self.excess_count > 0).then(|| (self.excess_squares / self.excess_count as f64).sqrt() / 1e3)
    }

    fn unwrap_tag(&self, tag_of_day_us: u64, host_us: i64) -> i64 {
        let tag = signed(tag_of_day_us);
        let Some((last_tag, last_host)) = self.last else { return tag };
        let expected = last_tag + (host_us - last_host);
        let days = (expected - tag + DAY_US / 2).div_euclid(DAY_US);
        tag + days * DAY_US
    }

    /// By how much the receiver's time has stepped, if it has.
    fn step(&mut self, delay_us: &mut i64, host_us: i64) -> Option<i64> {
        let least = self.least?.get();
        let off_us = *delay_us - least;
        if off_us < -STEP_US {
            let slept = self.may_have_slept_us.take();
            if slept.is_some_and(|then| host_us - then <= SLEEP_SHOWS_WITHIN_US) {
                self.slept_us -= off_us;
                *delay_us = least;
                return None;
            }
            return Some(-off_us);
        }
        if off_us <= STEP_US {
            self.late = None;
            return None;
        }
        let mut late = self.late.unwrap_or(Late { since_us: host_us, least: *delay_us, most: *delay_us });
        (late.least, late.most) = (late.least.min(*delay_us), late.most.max(*delay_us));
        if late.most - late.least > LATE_SPREAD_US {
            late = Late { since_us: host_us, least: *delay_us, most: *delay_us };
        }
        self.late = Some(late);
        (host_us - late.since_us >= LATE_FOR_US).then_some(-off_us)
    }
}

/// Host times and tags are far below 2^63 µs; one that is not is a damaged record, and its time is anything.
fn signed(us: u64) -> i64 {
    // A quarter of the range, so that sums and differences of four of them cannot overflow.
    i64::try_from(us).unwrap_or(i64::MAX).min(i64::MAX / 8)
}

#[cfg(test)]
mod tests;
