//! Two times: that of the world the box rides through, and that of the crystal in the box.
//!
//! World time is seconds since the port was first opened, `speed_up` times as fast as the wall clock.
//! The box clock counts µs since power-up, a little fast or slow, and wraps after 2^32.

use std::time::{Duration, Instant};

#[derive(Clone, Copy, Debug)]
pub(super) struct BoxClock {
    opened: Instant,
    /// The system's monotonic clock then, in s: the same for all programs on a machine.
    opened_host_s: f64,
    speed_up: f64,
    /// Box µs per s of the world.
    us_per_s: f64,
    start_us: u32,
    /// World time of the last power-up, in s.
    boot_at_s: f64,
}

impl BoxClock {
    pub(super) fn new(speed_up: f64, start_us: u32, drift_ppm: f64) -> Self {
        let us_per_s = 1e6 * (1.0 + drift_ppm * 1e-6);
        let host = rustix::time::clock_gettime(rustix::time::ClockId::Monotonic);
        let opened_host_s = host.tv_sec as f64 + host.tv_nsec as f64 / 1e9;
        Self { opened: Instant::now(), opened_host_s, speed_up, us_per_s, start_us, boot_at_s: 0.0 }
    }

    /// World time in s.
    pub(super) fn now_s(&self) -> f64 {
        self.opened.elapsed().as_secs_f64() * self.speed_up
    }

    /// The system's monotonic clock at a world time, in s.
    pub(super) fn host_s(&self, world_s: f64) -> f64 {
        self.opened_host_s + world_s / self.speed_up
    }

    /// How long the wall clock takes for a stretch of world time.
    pub(super) fn wall(&self, gap_s: f64) -> Duration {
        Duration::try_from_secs_f64((gap_s / self.speed_up).max(0.0)).unwrap_or(Duration::MAX)
    }

    /// Box µs since power-up at a world time, whole µs as the counter of a box shows them.
    pub(super) fn ticks_at(&self, world_s: f64) -> u64 {
        // From a float the cast holds at 0: before power-up the counter stands.
        ((world_s - self.boot_at_s) * self.us_per_s) as u64
    }

    /// World time that a number of box µs takes, in s.
    pub(super) fn world_gap_s(&self, ticks: u64) -> f64 {
        ticks as f64 / self.us_per_s
    }

    /// World time at which the counter reaches a number of µs.
    pub(super) fn world_at(&self, ticks: u64) -> f64 {
        self.boot_at_s + self.world_gap_s(ticks)
    }

    /// What the box writes into a frame for a number of µs since power-up.
    pub(super) fn stamp(&self, ticks: u64) -> u32 {
        // The counter of a box has 32 bits and wraps.
        self.start_us.wrapping_add(ticks as u32)
    }

    /// Seconds since power-up, by the box.
    pub(super) fn uptime_s(&self, world_s: f64) -> f64 {
        self.ticks_at(world_s) as f64 / 1e6
    }

    /// Power off and on at a world time: the counter starts anew.
    pub(super) fn reboot(&mut self, world_s: f64) {
        self.boot_at_s = world_s;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn counter_wraps_drifts_and_starts_anew() {
        let mut clock = BoxClock::new(1.0, u32::MAX - 9, 100.0);
        assert_eq!(clock.stamp(10), 0);
        assert_eq!(clock.ticks_at(10.0), 10_001_000);
        assert!((clock.world_at(10_001_000) - 10.0).abs() < 1e-9);
        clock.reboot(4.0);
        assert_eq!(clock.ticks_at(3.0), 0);
        assert_eq!(clock.ticks_at(5.0), 1_000_100);
    }
}
