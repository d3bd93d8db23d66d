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
        (config.begin == Begin::WhenInGround).then(|| Self::of_plow(&config.plow))
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
mod tests {
    use super::*;
    use crate::plow::read_plow;
    use std::path::Path;

    const COLUMNS: [ChannelRole; 2] = [ChannelRole::Pull, ChannelRole::Depth];

    struct Field {
        by_plow: ByPlow,
        t_s: f64,
    }

    impl Field {
        fn new() -> Self {
            let plow = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/plows/two-bottom.toml");
            Self { by_plow: ByPlow::of_plow(&read_plow(&plow).unwrap()), t_s: 0.0 }
        }

        fn us(&self) -> u64 {
            (self.t_s * 1e6) as u64
        }

        /// Goes on for so long, in the ground or out of it.
        fn go_on(&mut self, in_ground: bool, for_s: f64) {
            let (pull_n, depth_mm) = if in_ground { (9000.0, 200.0) } else { (200.0, -100.0) };
            for _ in 0..(for_s * 50.0) as u32 {
                self.t_s += 0.02;
                let mut row = Row::at(self.us());
                [pull_n, depth_mm].into_iter().for_each(|value| row.push(value));
                self.by_plow.take(&COLUMNS, &[row], (self.us(), self.us()));
            }
        }

        /// The same between runs; gives whether a run is asked for.
        fn go(&mut self, in_ground: bool, for_s: f64) -> bool {
            self.go_on(in_ground, for_s);
            self.by_plow.take_went_in().is_some()
        }
    }

    /// Found: a run stopped by hand in the ground was followed by another one at once.
    #[test]
    fn after_a_stop_by_hand_the_plow_comes_out_before_it_begins_another_run() {
        // Begun by the plow or by a person, or stopped before it was sure that the plow is in.
        for (begun_by_plow, in_before_s) in [(true, 10.0), (false, 10.0), (false, 0.6)] {
            let mut field = Field::new();
            assert!(!field.go(false, 10.0));
            assert_eq!(field.by_plow.begins(), Begins::WhenIn);
            if begun_by_plow {
                assert!(field.go(true, 5.0));
            }
            field.by_plow.run_begins(begun_by_plow);
            field.go_on(true, in_before_s);
            let at_us = field.us();
            field.by_plow.is_stopped(at_us);
            assert!(!field.go(true, 30.0), "by the plow: {begun_by_plow}, {in_before_s} s");
            assert_eq!(field.by_plow.begins(), Begins::OnceOut);
            assert!(!field.go(false, 10.0));
            assert_eq!(field.by_plow.begins(), Begins::WhenIn);
            assert!(field.go(true, 5.0), "the next pass");
        }
    }
}
