//! One channel, smoothed as its readings come.

use super::rule::SMOOTH_S;
use std::collections::VecDeque;

/// Readings are gathered over steps of this length, in s.
pub const STEP_S: f64 = 0.05;
/// The last reading stands for this long, in s: boxes of one row a second are seen.
const STANDS_S: f64 = 1.2;

/// Means of the steps of the last [`SMOOTH_S`].
#[derive(Clone, Debug, Default)]
pub struct Smoothed {
    /// Number of the step, sum and count of its readings.
    step: Option<(i64, f64, u32)>,
    /// Steps that are over: number and mean.
    means: VecDeque<(i64, f64)>,
}

pub fn step_of(t_s: f64) -> i64 {
    (t_s / STEP_S).floor() as i64
}

impl Smoothed {
    /// Takes a reading; readings of one channel come in the order of their times.
    pub fn take(&mut self, t_s: f64, value: f64) {
        let now = step_of(t_s);
        match &mut self.step {
            Some((step, sum, count)) if *step >= now => {
                *sum += value;
                *count += 1;
            }
            _ => {
                let over = self.step.replace((now, value, 1));
                self.means.extend(over.map(|(step, sum, count)| (step, sum / f64::from(count))));
            }
        }
    }

    /// The mean over the steps before this one, and how much earlier than its beginning they are in the middle, in s;
    /// `None` if nothing came for a while.
    pub fn before(&mut self, step: i64) -> Option<(f64, f64)> {
        if let Some((own, sum, count)) = self.step
            && own < step
        {
            self.step = None;
            self.means.push_back((own, sum / f64::from(count)));
        }
        let kept = (SMOOTH_S / STEP_S).round() as i64;
        while self.means.len() > 1 && self.means.front().is_some_and(|(old, _)| *old < step - kept) {
            self.means.pop_front();
        }
        let (last, _) = self.means.back()?;
        if (step - last) as f64 * STEP_S > STANDS_S {
            return None;
        }
        let count = self.means.len() as f64;
        let mean = self.means.iter().map(|(_, mean)| mean).sum::<f64>() / count;
        let middle = self.means.iter().map(|(own, _)| *own as f64 + 0.5).sum::<f64>() / count;
        Some((mean, (step as f64 - middle) * STEP_S))
    }
}
