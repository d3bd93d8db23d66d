//! Runs that begin when the plow goes into the ground, and end when it comes out.

use super::RecordConfig;
use super::config::Begin;
use super::view::Begins;
use crate::assemble::Row;
use crate::passes::rule::{AFTER_S, TRIM_S, WORKING_S_MIN};
use crate::passes::{PassEvent, PassFinder, Watched, cannot_find};
use crate::plow::{ChannelRole, Plow};

const AFTER_US: u64 = (AFTER_S * 1e6) as u64;

/// What the plow asks for. Host times in µs.
#[derive(Debug)]
pub struct ByPlow {
    finder: PassFinder,
    watched: Watched,
    went_in_us: Option<u64>,
    came_out_us: Option<u64>,
    /// How long the plow worked last, in s.
    worked_s: f64,
    passes: u32,
    /// Host time at which a person stopped a run last.
    stopped_us: u64,
    can_find: bool,
}

impl ByPlow {
    /// `None` where the plow does not begin the runs.
    pub fn of(config: &RecordConfig) -> Option<Self> {
        let of_plow = || Self { passes: config.passes_before, ..Self::of_plow(&config.plow) };
        (config.begin == Begin::WhenInGround).then(of_plow)
    }

    /// For this plow.
    pub fn of_plow(plow: &Plow) -> Self {
        Self {
            finder: PassFinder::of(plow),
            watched: Watched::default(),
            went_in_us: None,
            came_out_us: None,
            worked_s: 0.0,
            passes: 0,
            stopped_us: 0,
            can_find: cannot_find(plow).is_none(),
        }
    }

    /// Takes rows of one box, which came at this host time, when its live time was this one, in µs.
    pub fn take(&mut self, columns: &[ChannelRole], rows: &[Row], (host_us, live_us): (u64, u64)) {
        let at_host = |at_s: f64| host_us.saturating_sub(live_us.saturating_sub((at_s * 1e6) as u64));
        for row in rows {
            let reading = self.watched.reading(row.t_us as f64 / 1e6, columns, row.values());
            if reading.depth_mm.is_none() && reading.pull_n.is_none() {
                return;
            }
            self.finder.take(&reading, |event| match event {
                // Told some time after it was: whoever stopped a run meanwhile stopped that of this pass.
                PassEvent::WentIn { at_s } if at_host(at_s) <= self.stopped_us => {}
                PassEvent::WentIn { at_s } => {
                    (self.went_in_us, self.came_out_us) = (Some(at_host(at_s)), None);
                }
                PassEvent::CameOut { from_s, at_s } => {
                    (self.went_in_us, self.came_out_us) = (None, Some(at_host(at_s)));
                    self.worked_s = (at_s - from_s - 2.0 * TRIM_S).max(0.0);
                }
            });
        }
    }

    /// When the plow went in, and which pass this is, if nobody has asked yet.
    pub fn take_went_in(&mut self) -> Option<(u64, u32)> {
        self.went_in_us.take().map(|at_us| (at_us, self.passes + 1))
    }

    /// A run begins, by the plow or by a person.
    pub fn run_begins(&mut self, by_plow: bool) {
        self.came_out_us = None;
        self.went_in_us = None;
        self.passes += u32::from(by_plow);
    }

    /// The run ends; the plow that is in the ground still does not begin another one.
    pub fn run_ends(&mut self) {
        self.went_in_us = None;
    }

    /// A person stops a run at this host time, in µs: the next one begins once the plow has come out and goes in again.
    pub fn is_stopped(&mut self, host_us: u64) {
        self.went_in_us = None;
        self.stopped_us = host_us;
    }

    /// What begins the next run.
    pub fn begins(&self) -> Begins {
        match (self.can_find, self.finder.is_in_ground()) {
            (false, _) => Begins::ByHand,
            (true, false) => Begins::WhenIn,
            (true, true) => Begins::OnceOut,
        }
    }

    /// Whether the plow has been out for as long as a run goes on.
    pub fn is_out_since(&self, host_us: u64) -> bool {
        self.came_out_us.is_some_and(|out_us| host_us >= out_us + AFTER_US)
    }

    /// How long the plow worked, in s, if that is too short for a verdict.
    pub fn too_short_s(&self) -> Option<f64> {
        (self.worked_s < WORKING_S_MIN).then_some(self.worked_s)
    }
}

#[cfg(test)]
mod tests;
