//! What depth and pull show, held against what is usual while the plow works.

use super::rule::{DEPTH_MM_MIN, Shown};

/// It works only where it is deeper than this share of the usual depth.
pub const DEPTH_IN: f64 = 0.5;
/// And only where depth and pull, as shares of what is usual, multiply to more than this (depth beyond the usual one counts
/// as 1). A soft strip pulls little and is plowed at full depth; a plow that is dragged over the headland is shallow, and
/// so pulls little too: neither depth nor pull alone tells them apart where a gauge is some cm off. At full depth an
/// eighth of the usual pull will do, at half of it a quarter.
///
/// This and the three beside it are by choice, no source: of 777 passes of 199 drawn plows none was missed, none made up, with
/// 0.10 to 0.15 here, in soils that pull 0.35 to 1.4 times as hard beside each other.
pub const WORK_IN: f64 = 0.12;
/// Once it works, it is out only under these.
pub const DEPTH_OUT: f64 = 0.375;
/// See [`DEPTH_OUT`].
pub const WORK_OUT: f64 = 0.08;
/// Usual is the depth that so many per cent of the moments in the ground do not exceed.
pub const SELDOM_PERCENT: usize = 90;
/// Of so many moments at most the usual is worked out.
const MOMENTS_MAX: usize = 20_000;

/// What is usual while the plow works.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Usual {
    /// Depth in mm.
    pub depth_mm: f64,
    /// Pull in N.
    pub pull_n: f64,
}

/// Why nothing is usual.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NothingUsual {
    /// The plow was never deep enough to plow.
    NeverDeep,
    /// The pull in the ground is not above zero.
    PullNotAboveZero {
        /// Its 90th percentile, in N.
        pull_n: f64,
    },
}

impl Usual {
    /// What is usual in moments of smoothed depth (mm) and pull (N), of which any part may be on the headland or the
    /// road: the depth that is seldom exceeded while it is above 20 mm (90th percentile), and the middle pull of those
    /// moments that are so deep and pulled so hard.
    ///
    /// # Errors
    /// [`NothingUsual`].
    pub fn of(moments: impl Iterator<Item = (f64, f64)>) -> Result<Self, NothingUsual> {
        let mut moments: Vec<(f64, f64)> =
            moments.filter(|(depth_mm, _)| *depth_mm >= DEPTH_MM_MIN).collect();
        let every = moments.len().div_ceil(MOMENTS_MAX).max(1);
        moments = moments.into_iter().step_by(every).collect();
        let depth_mm = percentile(moments.iter().map(|(depth_mm, _)| *depth_mm).collect(), SELDOM_PERCENT);
        let most_n = percentile(moments.iter().map(|(_, pull_n)| *pull_n).collect(), SELDOM_PERCENT);
        let (Some(depth_mm), Some(most_n)) = (depth_mm, most_n) else { return Err(NothingUsual::NeverDeep) };
        if most_n <= 0.0 {
            return Err(NothingUsual::PullNotAboveZero { pull_n: most_n });
        }
        let most = Self { depth_mm, pull_n: most_n };
        let at_work =
            moments.iter().filter(|(depth_mm, pull_n)| most.shows(*depth_mm, *pull_n) == Shown::Works);
        let pull_n = percentile(at_work.map(|(_, pull_n)| *pull_n).collect(), 50).unwrap_or(most_n);
        Ok(Self { depth_mm, pull_n })
    }

    /// What a moment of this smoothed depth, in mm, and pull, in N, shows.
    #[must_use]
    pub fn shows(&self, depth_mm: f64, pull_n: f64) -> Shown {
        let (depth, pull) = (depth_mm / self.depth_mm, pull_n / self.pull_n);
        let work = depth.min(1.0) * pull;
        let is = |least_depth: f64, least_work: f64| {
            depth_mm > DEPTH_MM_MIN && pull > 0.0 && depth > least_depth && work > least_work
        };
        if is(DEPTH_IN, WORK_IN) {
            Shown::Works
        } else if is(DEPTH_OUT, WORK_OUT) {
            Shown::Unclear
        } else {
            Shown::Out
        }
    }

    /// The same where so much of the usual has been learned anew by a moment at work: 1 is all.
    #[must_use]
    pub fn towards(&self, depth_mm: f64, pull_n: f64, share: f64) -> Self {
        Self {
            depth_mm: self.depth_mm + share * (depth_mm - self.depth_mm),
            pull_n: self.pull_n + share * (pull_n - self.pull_n),
        }
    }
}

/// The value that this per cent of the values do not exceed; `None` of nothing.
fn percentile(mut values: Vec<f64>, percent: usize) -> Option<f64> {
    let place = values.len().checked_sub(1)? * percent / 100;
    Some(*values.select_nth_unstable_by(place, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    const USUAL: Usual = Usual { depth_mm: 150.0, pull_n: 8000.0 };

    #[test]
    fn soft_ground_at_full_depth_is_work_and_the_same_pull_at_half_depth_is_not() {
        assert_eq!(USUAL.shows(150.0, 1500.0), Shown::Works);
        assert_eq!(
            USUAL.shows(250.0, 800.0),
            Shown::Unclear,
            "deeper than usual counts no more than full depth"
        );
        assert_eq!(USUAL.shows(80.0, 1500.0), Shown::Unclear);
        assert_eq!(USUAL.shows(80.0, 2500.0), Shown::Works);
        // Dragged: a quarter of the depth, and a gauge that shows 3 cm more; standing; rolling; on the road uphill.
        for (depth_mm, pull_n) in
            [(67.0, 1600.0), (150.0, 0.0), (150.0, -900.0), (30.0, 300.0), (-60.0, 9000.0)]
        {
            assert_ne!(USUAL.shows(depth_mm, pull_n), Shown::Works, "{depth_mm} {pull_n}");
        }
        assert_eq!(USUAL.shows(f64::NAN, 8000.0), Shown::Out);
        assert_eq!(USUAL.shows(150.0, f64::NAN), Shown::Out);
    }

    /// Ten times as long on the road and standing in the ground as at work, in soils that pull 1 to 4.
    #[test]
    fn what_is_usual_is_what_the_plow_does_at_work() {
        let road = std::iter::repeat_n((-60.0, 200.0), 9_000);
        let dragged = std::iter::repeat_n((45.0, 900.0), 300);
        let passes = [2_000.0, 8_000.0, 6_000.0].map(|pull_n| std::iter::repeat_n((150.0, pull_n), 400));
        let usual = Usual::of(road.chain(dragged).chain(passes.into_iter().flatten())).unwrap();
        assert_eq!(usual, Usual { depth_mm: 150.0, pull_n: 6_000.0 });
        assert_eq!(usual.shows(150.0, 2_000.0), Shown::Works);
        assert_eq!(usual.shows(45.0, 900.0), Shown::Out);
        assert_eq!(Usual::of([(5.0, 100.0)].into_iter()), Err(NothingUsual::NeverDeep));
        let wrong = Usual::of([(150.0, -7_000.0)].into_iter());
        assert_eq!(wrong, Err(NothingUsual::PullNotAboveZero { pull_n: -7_000.0 }));
    }

    /// What is shallower than plowing is out, however shallow this plow usually works; 0 N is no pull.
    #[test]
    fn bounds_hold_for_a_plow_that_works_shallow_and_without_a_pull() {
        let skimming = Usual { depth_mm: 30.0, pull_n: 2000.0 };
        assert_eq!((skimming.shows(21.0, 2000.0), skimming.shows(20.0, 2000.0)), (Shown::Works, Shown::Out));
        let slack = Usual::of([(150.0, 0.0)].into_iter());
        assert_eq!(slack, Err(NothingUsual::PullNotAboveZero { pull_n: 0.0 }));
    }

    /// Every moment counts while they are few.
    #[test]
    fn what_is_learned_goes_towards_what_is() {
        let usual = Usual { depth_mm: 100.0, pull_n: 8000.0 };
        assert_eq!(usual.towards(200.0, 4000.0, 0.25), Usual { depth_mm: 125.0, pull_n: 7000.0 });
        let moments = (1..=10).map(|n| (100.0 + f64::from(n), 1000.0 * f64::from(n)));
        assert_eq!(Usual::of(moments), Ok(Usual { depth_mm: 109.0, pull_n: 6000.0 }));
    }

    #[test]
    fn percentiles_are_values_of_the_list() {
        assert_eq!(percentile((0..=100).rev().map(f64::from).collect(), 90), Some(90.0));
        assert_eq!(percentile(vec![3.0], 50), Some(3.0));
        assert_eq!(percentile(Vec::new(), 50), None);
    }
}
