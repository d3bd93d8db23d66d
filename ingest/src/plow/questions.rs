//! What is possible in a description but unusual: asked, never corrected.

use super::{Front, Hole, Plow};
use crate::description_file::KeyFault;
use crate::quantity::{Force, Length};

// The bounds are choices, no source has them: wide enough for the example plows, narrow enough for the slips of a
// tape that are named in the sentences.
/// Share of the standing weight on the tail.
const TAIL_SHARE: std::ops::RangeInclusive<f64> = 0.15..=0.55;
/// Weight for each bottom of a plow on wheels, in N: 180 lbf.
const BOTTOM_MIN_N: f64 = 800.0;
/// Cut of one bottom of several, in m: 22 in.
const CUT_MAX_M: f64 = 0.55;
/// From a hole to the next of its row, in m: 8 in.
const GAP_MAX_M: f64 = 0.2;

/// Loads of a plow on wheels that stands level and unhitched.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StandingLoads {
    /// On the front wheels.
    pub front: Force,
    /// On what carries the tail.
    pub tail: Force,
    /// The tail's share of both.
    pub tail_share: f64,
}

impl Plow {
    /// How the weight rests on front wheels and tail, level and unhitched; `None` of a plow that does not stand on
    /// wheels of its own.
    #[must_use]
    pub fn standing_loads(&self) -> Option<StandingLoads> {
        let Front::Wheels(_) = self.front else { return None };
        let tail_share = self.weight.x.si() / self.tail.x().si();
        let total = self.weight.total.si();
        tail_share.is_finite().then(|| StandingLoads {
            front: Force::from_n(total * (1.0 - tail_share)),
            tail: Force::from_n(total * tail_share),
            tail_share,
        })
    }

    /// What is unusual in the description, each with what to check.
    #[must_use]
    pub fn questions(&self) -> Vec<KeyFault> {
        let mut asked = Vec::new();
        let bottoms = &self.bottoms;
        if let Some(standing) = self.standing_loads() {
            if !TAIL_SHARE.contains(&standing.tail_share) {
                asked.push(KeyFault::at(
                    "weight.x",
                    format!(
                        "{} puts {:.0} % of the standing weight on the tail, where {:.0} to {:.0} % is usual: is it \
                         measured back from the front axle, and not from the tail?",
                        self.weight.x.value,
                        100.0 * standing.tail_share,
                        100.0 * TAIL_SHARE.start(),
                        100.0 * TAIL_SHARE.end()
                    ),
                ));
            }
            if self.weight.total.si() < BOTTOM_MIN_N * f64::from(bottoms.count) {
                asked.push(KeyFault::at(
                    "weight.total",
                    format!(
                        "{} is little for a plow on wheels with {}: is it what front and tail weigh together, and \
                         not the tail alone?",
                        self.weight.total.value,
                        if bottoms.count == 1 { "a bottom".to_owned() } else { format!("{} bottoms", bottoms.count) }
                    ),
                ));
            }
            if self.plow_hitch.x.si() < 0.0 {
                asked.push(KeyFault::at(
                    "plow_hitch.x",
                    format!(
                        "{} is behind the front axle, where a hitch is seldom: forward of the axle has no minus",
                        self.plow_hitch.x.value
                    ),
                ));
            }
        }
        if bottoms.count > 1 && bottoms.cut_width.m() > CUT_MAX_M {
            asked.push(KeyFault::at(
                "bottoms.cut_width",
                format!(
                    "{} is wide for one bottom: is it the cut of one, and not of all {}?",
                    bottoms.cut_width, bottoms.count
                ),
            ));
        }
        for (key, holes) in
            [("plow_hitch.holes", &self.plow_hitch.holes), ("tractor_hitch.holes", &self.tractor_hitch.holes)]
        {
            asked.extend(far_from_others(holes).map(|hole| {
                let sentence = format!(
                    "hole \"{}\" at {} is more than {} from the next: is its height written right, with its point?",
                    hole.name,
                    hole.z.value,
                    Length::from_m(GAP_MAX_M)
                );
                KeyFault::at(key, sentence)
            }));
        }
        asked
    }
}

/// Holes that have none of their row near them, where others have; two holes have no row.
fn far_from_others(holes: &[Hole]) -> impl Iterator<Item = &Hole> {
    let apart = |one: &Hole| {
        let others = holes.iter().filter(|other| other.name != one.name);
        let nearest = others.map(|other| (other.z.si() - one.z.si()).abs()).min_by(f64::total_cmp);
        nearest.is_some_and(|gap| gap > GAP_MAX_M)
    };
    let some_near = holes.len() > 2 && !holes.iter().all(apart);
    holes.iter().filter(move |hole| some_near && apart(hole))
}
