//! The rule applied to readings as they come.

use super::rule::{HOP_S, Shown, Stretch, Stretches, UNSEEN_S_MAX};
use super::smoothing::{STEP_S, Smoothed, step_of};
use super::usual::Usual;
use crate::calibration::CalibrationReport;
use crate::plow::{ChannelRole, Plow};

/// Until a pass has shown what is usual, it is this share of the depth that the plow description states, which may be
/// more than is plowed today, by choice.
const OF_STATED_DEPTH: f64 = 0.9;
/// And this share of the sensor's full scale, by choice: of a sensor that suits the plow, which is not pulled to its
/// limit. At full depth the plow then works from 4 % of full scale on; its wheels take about 2 % to pull.
const OF_FULL_SCALE: f64 = 1.0 / 3.0;
/// The usual follows what is over this long at work, in s.
const USUAL_S: f64 = 30.0;
/// Nobody knows any more what is usual after so long out of the ground, in s.
const FORGOTTEN_S: f64 = 1200.0;

/// Readings of one moment; `None` where the box has no such channel.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Reading {
    /// Time in s.
    pub t_s: f64,
    /// Depth in mm.
    pub depth_mm: Option<f64>,
    /// Pull in N.
    pub pull_n: Option<f64>,
}

/// What became of the plow. Each is told about one and a half seconds after it was.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PassEvent {
    /// It went into the ground.
    WentIn {
        /// When, in s.
        at_s: f64,
    },
    /// It came out.
    CameOut {
        /// When it went in, in s.
        from_s: f64,
        /// When it came out, in s.
        at_s: f64,
    },
}

/// Why the passes of a plow cannot be found by what its sensors measure; `None` if they can.
#[must_use]
pub fn cannot_find(plow: &Plow) -> Option<&'static str> {
    let has = |role: ChannelRole| plow.sensors.iter().any(|sensor| sensor.measures == role);
    let pulled = has(ChannelRole::Pull) || has(ChannelRole::LowerLinks);
    match (has(ChannelRole::Depth), pulled) {
        (true, true) => None,
        (false, true) => Some("no sensor measures the depth"),
        (true, false) => Some("no sensor measures the pull, nor the force along the lower links"),
        (false, false) => Some("no sensor measures the depth, nor the pull"),
    }
}

/// Tells when the plow goes into the ground and when it comes out.
#[derive(Clone, Debug)]
pub struct PassFinder {
    /// By the plow description.
    expected: Usual,
    /// By the passes so far.
    learned: Option<Usual>,
    depth: Smoothed,
    pull: Smoothed,
    /// The next step that is looked at.
    step: Option<i64>,
    stretches: Stretches,
    /// Whether the stretch that is not over has been told.
    told: bool,
    told_out_s: f64,
}

impl PassFinder {
    /// A finder for a plow that works at this depth, in mm, whose pull is measured by a sensor of this full scale, in N.
    #[must_use]
    pub fn new(stated_depth_mm: f64, full_scale_n: f64) -> Self {
        Self {
            expected: Usual {
                depth_mm: OF_STATED_DEPTH * stated_depth_mm,
                pull_n: OF_FULL_SCALE * full_scale_n,
            },
            learned: None,
            depth: Smoothed::default(),
            pull: Smoothed::default(),
            step: None,
            stretches: Stretches::default(),
            told: false,
            told_out_s: 0.0,
        }
    }

    /// The same by its description.
    #[must_use]
    pub fn of(plow: &Plow) -> Self {
        let full_scale = |role: ChannelRole| {
            let sensor = plow.sensors.iter().find(|sensor| sensor.measures == role)?;
            CalibrationReport::of(&sensor.calibration, role).ok().map(|report| report.figures.full_scale)
        };
        let full_scale_n = full_scale(ChannelRole::Pull).or_else(|| full_scale(ChannelRole::LowerLinks));
        Self::new(plow.bottoms.depth.m() * 1e3, full_scale_n.unwrap_or(0.0))
    }

    /// Whether the plow is in the ground, as far as has been told.
    #[must_use]
    pub fn is_in_ground(&self) -> bool {
        self.told
    }

    /// Takes readings; those of one channel come in the order of their times, those of several boxes each as they come.
    pub fn take(&mut self, reading: &Reading, mut found: impl FnMut(PassEvent)) {
        if let Some(depth_mm) = reading.depth_mm.filter(|value| value.is_finite()) {
            self.depth.take(reading.t_s, depth_mm);
        }
        if let Some(pull_n) = reading.pull_n.filter(|value| value.is_finite()) {
            self.pull.take(reading.t_s, pull_n);
        }
        let now = step_of(reading.t_s);
        let next = *self.step.get_or_insert(now);
        if now <= next {
            return;
        }
        // Of a long gap only its end is looked at.
        let last_steps = (UNSEEN_S_MAX / STEP_S) as i64;
        (next.max(now - last_steps) + 1..=now).for_each(|step| self.look(step, &mut found));
        self.step = Some(now);
    }

    /// Looks at what the steps before this one show.
    fn look(&mut self, step: i64, found: &mut impl FnMut(PassEvent)) {
        let (Some((depth_mm, depth_ago_s)), Some((pull_n, pull_ago_s))) =
            (self.depth.before(step), self.pull.before(step))
        else {
            return;
        };
        let t_s = step as f64 * STEP_S - depth_ago_s.max(pull_ago_s);
        if !self.told && t_s - self.told_out_s > FORGOTTEN_S {
            self.learned = None;
        }
        let shown = self.learned.unwrap_or(self.expected).shows(depth_mm, pull_n);
        // One that has not been told yet has no hops: what comes and goes is no pass.
        if !self.told && shown != Shown::Works {
            self.stretches = Stretches::default();
            return;
        }
        if let Some(over) = self.stretches.take(t_s, STEP_S, shown, |_, _| false) {
            self.end(over, found);
        }
        let Some(open) = self.stretches.open() else { return };
        if !self.told && t_s - open.from_s >= HOP_S {
            self.told = true;
            found(PassEvent::WentIn { at_s: open.from_s });
        }
        if self.told && shown == Shown::Works {
            self.learned = Some(match self.learned {
                Some(usual) => usual.towards(depth_mm, pull_n, STEP_S / USUAL_S),
                None => Usual { depth_mm, pull_n },
            });
        }
    }

    fn end(&mut self, stretch: Stretch, found: &mut impl FnMut(PassEvent)) {
        if std::mem::take(&mut self.told) {
            self.told_out_s = stretch.to_s;
            found(PassEvent::CameOut { from_s: stretch.from_s, at_s: stretch.to_s });
        }
    }
}

/// Puts the rows of several boxes together to readings: what a recorder sees.
#[derive(Clone, Debug, Default)]
pub struct Watched {
    lower_links_n: Option<f64>,
    top_link_n: f64,
    has_pull: bool,
}

impl Watched {
    /// What a row of these columns at this time shows. The pull is that of the drawbar, or of the links: theirs along the
    /// links is near enough to tell whether the plow is in the ground.
    pub fn reading(&mut self, t_s: f64, columns: &[ChannelRole], values: &[f64]) -> Reading {
        let mut reading = Reading { t_s, ..Reading::default() };
        let mut of_links = false;
        for (role, value) in columns.iter().zip(values) {
            match role {
                ChannelRole::Depth => reading.depth_mm = Some(*value),
                ChannelRole::Pull => {
                    self.has_pull = true;
                    reading.pull_n = Some(*value);
                }
                ChannelRole::LowerLinks => {
                    self.lower_links_n = Some(*value);
                    of_links = true;
                }
                ChannelRole::TopLink => self.top_link_n = *value,
                _ => {}
            }
        }
        if of_links && !self.has_pull {
            reading.pull_n = self.lower_links_n.map(|lower_n| lower_n + self.top_link_n);
        }
        reading
    }
}

#[cfg(test)]
mod tests;
