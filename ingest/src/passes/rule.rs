//! What ends a pass. All by choice, no source.

/// Depth and pull are smoothed over this long before they are compared, in s.
pub const SMOOTH_S: f64 = 0.5;
/// Shallower than this is not plowing, in mm.
pub const DEPTH_MM_MIN: f64 = 20.0;
/// Seen out of the ground for less than this is a hop, not the end, in s.
pub const HOP_S: f64 = 1.5;
/// Not working and not out for so long, hops included, it is out: it is dragged over the headland. In s.
pub const UNCLEAR_S_MAX: f64 = 5.0;
/// A gap up to this long, in the ground on both sides of it, does not end the working part: nobody lifts a
/// plow, turns and drops it again in so little time. In s.
pub const UNSEEN_S_MAX: f64 = 10.0;
/// Cut off each end: the plow is still finding its depth, or already leaving it. In s.
pub const TRIM_S: f64 = 2.0;
/// Shortest working part that can be judged, its ends trimmed: three periods of the slowest bobbing searched for (0.5 Hz). In s.
pub const WORKING_S_MIN: f64 = 6.0;

/// That a pass of which so long may be judged, in s, is too short, and how long it would have to be.
#[must_use]
pub fn too_short(worked_s: f64) -> String {
    // As many digits as show that it is shorter.
    let told = (1..6).map(|digits| format!("{worked_s:.digits$}"));
    let told = told.into_iter().find(|text| text.parse().is_ok_and(|told: f64| told < WORKING_S_MIN));
    format!(
        "the plow worked for {} s, its first and last {TRIM_S:.0} s not counted, and a verdict needs {WORKING_S_MIN:.0} s",
        told.unwrap_or_else(|| format!("{worked_s:.6}"))
    )
}

/// A run begins so long before it was asked for, or before the plow went in, in s.
pub const BEFORE_S: f64 = 5.0;
/// A run goes on for so long after the plow came out, in s.
pub const AFTER_S: f64 = 2.0;

/// What a moment shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// The plow works.
    Works,
    /// Neither: it goes on as it was.
    Unclear,
    /// It is out of the ground, or stands in it.
    Out,
}

/// A stretch in the ground, so far.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Its first moment, in s.
    pub from_s: f64,
    /// Its last moment so far, in s.
    pub to_s: f64,
}

/// Puts moments together to stretches: whoever looks for passes does it by this.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stretches {
    open: Option<Stretch>,
    /// Seen since its last moment, in s: out of the ground, and neither working nor out.
    out_s: f64,
    unclear_s: f64,
}

impl Stretches {
    /// The stretch that is not over.
    #[must_use]
    pub fn open(&self) -> Option<Stretch> {
        self.open
    }

    /// Takes the next moment, which stands for `lasts_s`, and gives the stretch that is over by it, if one is. Where
    /// nothing was seen between two times in s and `unseen` says why, the plow is taken to have worked on, however long
    /// that is.
    pub fn take(
        &mut self,
        t_s: f64,
        lasts_s: f64,
        shown: Shown,
        unseen: impl FnOnce(f64, f64) -> bool,
    ) -> Option<Stretch> {
        let Some(open) = &mut self.open else {
            self.open = (shown == Shown::Works).then_some(Stretch { from_s: t_s, to_s: t_s });
            return None;
        };
        match shown {
            Shown::Works => {
                let unseen_s = t_s - open.to_s - self.out_s - self.unclear_s;
                let goes_on = unseen_s < UNSEEN_S_MAX || unseen(open.to_s, t_s);
                (self.out_s, self.unclear_s) = (0.0, 0.0);
                if goes_on {
                    open.to_s = open.to_s.max(t_s);
                    return None;
                }
                return self.open.replace(Stretch { from_s: t_s, to_s: t_s });
            }
            Shown::Unclear => self.unclear_s += lasts_s,
            Shown::Out => self.out_s += lasts_s,
        }
        let over = self.out_s >= HOP_S || self.out_s + self.unclear_s >= UNCLEAR_S_MAX;
        if over { std::mem::take(self).open } else { None }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The stretches of so many steps of a tenth of a second each, all of them over at the end.
    fn stretches(shown: &[(u32, Shown)]) -> Vec<(f64, f64)> {
        let mut watch = Stretches::default();
        let steps = shown.iter().flat_map(|(steps, shown)| std::iter::repeat_n(*shown, *steps as usize));
        let found = (0..)
            .zip(steps)
            .filter_map(|(step, shown)| watch.take(f64::from(step) / 10.0, 0.1, shown, |_, _| false));
        found.map(|one| (one.from_s, one.to_s)).collect()
    }

    #[test]
    fn a_hop_does_not_end_a_stretch_nor_does_a_short_doubt() {
        use Shown::{Out, Unclear, Works};
        let end = (16, Out);
        assert_eq!(stretches(&[(10, Works), (14, Out), (10, Works), end]), [(0.0, 3.3)]);
        assert_eq!(stretches(&[(10, Works), (16, Out), (10, Works), end]), [(0.0, 0.9), (2.6, 3.5)]);
        assert_eq!(stretches(&[(10, Works), (40, Unclear), (10, Works), end]), [(0.0, 5.9)]);
        // Dragged over the headland: the pass ended where it was last seen to work.
        assert_eq!(stretches(&[(10, Works), (60, Unclear), (10, Works), end]), [(0.0, 0.9), (7.0, 7.9)]);
        assert_eq!(stretches(&[(60, Unclear), (10, Works), (10, Unclear), end]), [(6.0, 6.9)]);
    }

    /// What ends a stretch is counted anew after each moment at work, together where it is both, and at its very bound.
    #[test]
    fn hops_and_doubts_are_counted_since_the_last_moment_at_work() {
        use Shown::{Out, Unclear, Works};
        let end = (16, Out);
        assert_eq!(stretches(&[(5, Works), (14, Out), (1, Works), (14, Out), (1, Works), end]), [(0.0, 3.4)]);
        assert_eq!(
            stretches(&[(5, Works), (45, Unclear), (1, Works), (45, Unclear), (1, Works), end]),
            [(0.0, 9.6)]
        );
        let dragged = [(10, Works), (42, Unclear), (10, Out), (10, Works), end];
        assert_eq!(stretches(&dragged), [(0.0, 0.9), (6.2, 7.1)]);
        let mut watch = Stretches::default();
        let mut take = |t_s, shown| watch.take(t_s, 0.5, shown, |_, _| false);
        assert_eq!(take(0.0, Works), None);
        assert_eq!([0.5, 1.0].map(|t_s| take(t_s, Out)), [None, None]);
        assert_eq!(take(1.5, Out), Some(Stretch { from_s: 0.0, to_s: 0.0 }), "out for {HOP_S} s");
    }

    /// Only what was not seen at all is a gap.
    #[test]
    fn a_doubt_before_a_gap_is_no_part_of_it() {
        let mut watch = Stretches::default();
        watch.take(0.0, 0.1, Shown::Works, |_, _| false);
        watch.take(3.0, 3.0, Shown::Unclear, |_, _| false);
        let goes_on = watch.take(3.0 + UNSEEN_S_MAX - 0.1, 0.1, Shown::Works, |_, _| false);
        assert_eq!((goes_on, watch.open().map(|open| open.from_s)), (None, Some(0.0)));
        let ended = watch.take(12.9 + UNSEEN_S_MAX + 0.1, 0.1, Shown::Works, |_, _| false);
        assert_eq!(ended, Some(Stretch { from_s: 0.0, to_s: 12.9 }));
    }

    #[test]
    fn a_gap_ends_a_stretch_when_it_is_long_and_nobody_says_why() {
        for (gap_s, why, over) in [(9.0, false, false), (11.0, false, true), (600.0, true, false)] {
            let mut watch = Stretches::default();
            assert_eq!(watch.take(1.0, 0.1, Shown::Works, |_, _| why), None);
            let ended = watch.take(1.0 + gap_s, 0.1, Shown::Works, |from_s, to_s| {
                assert_eq!((from_s, to_s), (1.0, 1.0 + gap_s));
                why
            });
            assert_eq!(ended.is_some(), over, "{gap_s}");
            let from_s = if over { 1.0 + gap_s } else { 1.0 };
            assert_eq!(watch.open(), Some(Stretch { from_s, to_s: 1.0 + gap_s }));
        }
    }
}
