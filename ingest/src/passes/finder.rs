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
                pull_n: OF_FULL_SCALE * full_scale_n.abs(),
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
mod tests {
    use super::*;

    /// Stretches of so many s, each with a depth in mm and a pull in N, at 50 rows a second.
    fn found(stretches: &[(f64, f64, f64)]) -> Vec<PassEvent> {
        let mut finder = PassFinder::new(200.0, 20_000.0);
        let (mut all, mut t_s) = (Vec::new(), 0.0);
        for (lasts_s, depth_mm, pull_n) in stretches {
            let until_s = t_s + lasts_s;
            while t_s < until_s {
                let reading = Reading { t_s, depth_mm: Some(*depth_mm), pull_n: Some(*pull_n) };
                finder.take(&reading, |event| all.push(event));
                t_s += 0.02;
            }
        }
        all
    }

    const PASS: (f64, f64, f64) = (20.0, 200.0, 8000.0);
    const OUT: (f64, f64, f64) = (5.0, -60.0, 300.0);

    #[test]
    fn passes_are_told_and_hops_and_what_comes_and_goes_are_not() {
        let passes = found(&[OUT, PASS, (1.0, -60.0, 300.0), PASS, OUT, PASS, OUT]);
        let [
            PassEvent::WentIn { at_s: first },
            PassEvent::CameOut { from_s, at_s },
            PassEvent::WentIn { at_s: second },
            PassEvent::CameOut { .. },
        ] = passes[..]
        else {
            panic!("{passes:?}")
        };
        assert!((first - 5.0).abs() < 0.3 && (from_s - first).abs() < 1e-9, "{passes:?}");
        assert!((at_s - 46.0).abs() < 0.3 && (second - 51.0).abs() < 0.3, "{passes:?}");
        // On the road, let down for a moment, standing in the ground, turning with the plow low, a wheel that slips.
        for idle in [
            (600.0, -60.0, 300.0),
            (1.0, 200.0, 8000.0),
            (60.0, 200.0, 0.0),
            (30.0, 60.0, 2500.0),
            (0.8, -60.0, 9000.0),
        ] {
            assert_eq!(found(&[OUT, idle, OUT, idle, OUT]), [], "{idle:?}");
            assert_eq!(found(&[OUT, PASS, OUT, idle, OUT, idle, OUT]).len(), 2, "{idle:?}");
        }
    }

    /// The zero of the gauge is off by 3 cm to either side, and the pass is shallower than stated.
    #[test]
    fn a_gauge_that_is_off_does_not_matter() {
        for (in_mm, out_mm) in [(170.0, -30.0), (230.0, 30.0), (130.0, 30.0), (100.0, -60.0)] {
            let passes = found(&[(5.0, out_mm, 300.0), (20.0, in_mm, 8000.0), (5.0, out_mm, 300.0)]);
            assert_eq!(passes.len(), 2, "{in_mm} {out_mm}: {passes:?}");
        }
    }

    /// A soft pass beside hard ones is one; a shallow and light one is none after them, for a while.
    #[test]
    fn what_is_usual_is_learned_and_forgotten() {
        let soft = (20.0, 200.0, 2000.0);
        assert_eq!(found(&[OUT, soft, OUT]).len(), 2);
        assert_eq!(found(&[OUT, PASS, OUT, soft, OUT, PASS, OUT]).len(), 6);
        let light = (20.0, 110.0, 1600.0);
        assert_eq!(found(&[OUT, light, OUT]).len(), 2);
        assert_eq!(found(&[OUT, PASS, OUT, light, OUT]).len(), 2);
        assert_eq!(found(&[OUT, PASS, (1300.0, -60.0, 300.0), light, OUT]).len(), 4);
    }

    /// The plow is let up a little at the end and dragged across the headland into the next pass.
    #[test]
    fn a_plow_that_is_dragged_over_the_headland_is_out() {
        for (depth_mm, pull_n) in [(60.0, 2000.0), (80.0, 2400.0), (90.0, 1600.0), (120.0, 1000.0)] {
            let passes = found(&[OUT, PASS, (9.0, depth_mm, pull_n), PASS, OUT]);
            assert_eq!(passes.len(), 4, "{depth_mm} {pull_n}: {passes:?}");
            let PassEvent::CameOut { at_s, .. } = passes[1] else { panic!("{passes:?}") };
            assert!((at_s - 25.0).abs() < 0.4, "{passes:?}");
        }
    }

    #[test]
    fn a_gap_of_some_seconds_does_not_end_a_pass_and_a_long_one_does() {
        for (gap_s, events) in [(8.0, 2), (15.0, 4)] {
            let mut finder = PassFinder::new(200.0, 20_000.0);
            let mut all = Vec::new();
            for (from_s, to_s, depth_mm) in
                [(0.0, 5.0, 0.0), (5.0, 25.0, 200.0), (25.0 + gap_s, 50.0, 200.0), (50.0, 55.0, 0.0)]
            {
                let rows = ((to_s - from_s) * 50.0) as usize;
                for row in 0..rows {
                    let t_s = from_s + row as f64 / 50.0;
                    let reading = Reading { t_s, depth_mm: Some(depth_mm), pull_n: Some(40.0 * depth_mm) };
                    finder.take(&reading, |event| all.push(event));
                }
            }
            assert_eq!(all.len(), events, "{gap_s}: {all:?}");
        }
    }

    /// Depth and pull come from boxes of a row a second, half a second apart.
    #[test]
    fn slow_boxes_are_seen() {
        let mut finder = PassFinder::new(200.0, 20_000.0);
        let mut all = Vec::new();
        for second in 0..60u32 {
            let t_s = f64::from(second);
            let depth_mm = if (10..40).contains(&second) { 200.0 } else { -50.0 };
            finder.take(&Reading { t_s, depth_mm: Some(depth_mm), pull_n: None }, |event| all.push(event));
            let pull_n = Some(if depth_mm > 0.0 { 7000.0 } else { 100.0 });
            finder.take(&Reading { t_s: t_s + 0.5, depth_mm: None, pull_n }, |event| all.push(event));
        }
        let [PassEvent::WentIn { at_s: from_s }, PassEvent::CameOut { at_s, .. }] = all[..] else {
            panic!("{all:?}")
        };
        assert!((from_s - 10.5).abs() < 1.0 && (at_s - 39.5).abs() < 1.5, "{all:?}");
    }

    /// A depth box that falls silent for longer than a turn takes, and one that gives no number now and then.
    #[test]
    fn a_box_that_is_silent_is_not_seen_and_what_is_no_number_is_left_out() {
        for (silent, events) in [(false, 2), (true, 4)] {
            let mut finder = PassFinder::new(200.0, 20_000.0);
            let mut all = Vec::new();
            for row in 0..3000u32 {
                let t_s = f64::from(row) / 50.0;
                let is_in = (5.0..50.0).contains(&t_s);
                let depth_mm = if is_in { 200.0 } else { -60.0 };
                let number = if row % 10 == 0 { f64::NAN } else { depth_mm };
                let heard = !(silent && (20.0..35.0).contains(&t_s));
                let pull_n = Some(if is_in { 8000.0 } else { 300.0 });
                finder.take(&Reading { t_s, depth_mm: heard.then_some(number), pull_n }, |event| {
                    all.push(event)
                });
            }
            assert_eq!(all.len(), events, "{silent}: {all:?}");
        }
    }

    #[test]
    fn the_pull_is_that_of_the_drawbar_or_of_all_links() {
        let (lower, top) = ([ChannelRole::LowerLinks], [ChannelRole::TopLink]);
        let mut links = Watched::default();
        assert_eq!(links.reading(1.0, &top, &[-200.0]).pull_n, None);
        assert_eq!(links.reading(1.1, &lower, &[5000.0]).pull_n, Some(4800.0));
        let mut drawbar = Watched::default();
        assert_eq!(drawbar.reading(1.0, &[ChannelRole::Pull], &[7000.0]).pull_n, Some(7000.0));
        assert_eq!(drawbar.reading(1.1, &lower, &[5000.0]).pull_n, None);
    }

    #[test]
    fn what_comes_and_goes_is_no_pass_and_what_is_light_or_shallow_after_it_goes_by_what_is_usual() {
        let (dip, between) = ((1.0, 200.0, 8000.0), (1.2, -60.0, 300.0));
        assert_eq!(found(&[OUT, dip, between, dip, between, dip, between, dip, OUT]), []);
        // After a pass so long that the pull would be forgotten out of the ground: light is work still, shallow is not.
        let long = (1250.0, 200.0, 8000.0);
        for (last, in_s) in [((5.0, 200.0, 1200.0), 1260.0), ((5.0, 70.0, 8000.0), 1255.0)] {
            let events = found(&[OUT, long, last, OUT]);
            let [_, PassEvent::CameOut { at_s, .. }] = events[..] else { panic!("{events:?}") };
            assert!((at_s - in_s).abs() < 0.4, "{last:?}: {events:?}");
        }
    }

    /// The box of the depth is ahead of the other's; then it is silent while the pull falls, which alone says nothing.
    #[test]
    fn steps_are_looked_at_once_and_only_where_both_channels_are_seen() {
        for (silent_s, slack_s) in [(0.0, 1.0), (5.0, 3.0)] {
            let mut finder = PassFinder::new(200.0, 20_000.0);
            let mut all = Vec::new();
            for row in 0..3000u32 {
                let t_s = f64::from(row) / 50.0;
                let is_in = (5.0..50.0).contains(&t_s);
                let depth_mm = if is_in { 200.0 } else { -60.0 };
                if !(20.0..20.0 + silent_s).contains(&t_s) {
                    let reading = Reading { t_s: t_s + 0.3, depth_mm: Some(depth_mm), pull_n: None };
                    finder.take(&reading, |event| all.push(event));
                }
                let is_slack = !is_in || (21.9..21.9 + slack_s).contains(&t_s);
                let pull_n = Some(if is_slack { 300.0 } else { 8000.0 });
                finder.take(&Reading { t_s, depth_mm: None, pull_n }, |event| all.push(event));
            }
            assert_eq!(all.len(), 2, "{silent_s} {slack_s}: {all:?}");
        }
    }
}
