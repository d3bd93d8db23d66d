//! What is possible in a description but unusual: asked, never corrected.

use super::{Front, Hole, Plow};
use crate::description_file::KeyFault;
use crate::quantity::{Force, UnitSystem};

// The bounds are choices, no source has them: wide enough for the example plows, narrow enough for the slips of a
// tape that are named in the sentences.
/// Share of the standing weight on the tail.
const TAIL_SHARE: std::ops::RangeInclusive<f64> = 0.15..=0.55;
/// Weight for each bottom of a plow on wheels, in N: 180 lbf.
const BOTTOM_MIN_N: f64 = 800.0;
/// Cut of one bottom of several, in m: 22 in.
const CUT_MAX_M: f64 = 0.55;
/// From a hole to the next of its row, in m: 8 in; and in steps of the row, of at least 1 in.
const GAP_MAX_M: f64 = 0.2;
const GAP_MAX_STEPS: f64 = 3.0;
const STEP_MIN_M: f64 = 0.0254;

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

    /// What is to be told of a description where it is first used: how the plow stands by it, and what is unusual in it.
    #[must_use]
    pub fn as_described(&self, units: UnitSystem) -> Vec<String> {
        let standing = self.standing_loads().map(|StandingLoads { front, tail, tail_share }| {
            format!(
                "standing level: front {}, tail {} ({:.0} %)",
                units.force_text(front),
                units.force_text(tail),
                100.0 * tail_share
            )
        });
        standing.into_iter().chain(self.doubts()).collect()
    }

    /// What is unusual in the description, each in a line.
    pub fn doubts(&self) -> impl Iterator<Item = String> {
        self.questions().into_iter().map(|question| format!("unusual: {question}"))
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
            // A spring that is measured up to more than the plow weighs carries a larger one.
            let table_n = self.tail.wheel().and_then(|wheel| wheel.load_table.lines().last());
            let is_less_than_table = table_n.is_some_and(|(_, load)| self.weight.total.si() < load.n());
            if is_less_than_table || self.weight.total.si() < BOTTOM_MIN_N * f64::from(bottoms.count) {
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
            asked.extend(far_from_others(holes).into_iter().map(|hole| {
                let sentence = format!(
                    "hole \"{}\" at {} is far from the others of its row: is its height written right, with its point?",
                    hole.name, hole.z.value
                );
                KeyFault::at(key, sentence)
            }));
        }
        asked
    }
}

/// Holes that have none of their row near them, where others have; two holes have no row.
fn far_from_others(holes: &[Hole]) -> Vec<&Hole> {
    let gap_m = |one: &Hole| {
        let others = holes.iter().filter(|other| other.name != one.name);
        others.map(|other| (other.z.si() - one.z.si()).abs()).min_by(f64::total_cmp).unwrap_or_default()
    };
    let mut gaps: Vec<f64> = holes.iter().map(gap_m).collect();
    gaps.sort_by(f64::total_cmp);
    let step_m = gaps.get(gaps.len().saturating_sub(1) / 2).copied().unwrap_or_default().max(STEP_MIN_M);
    let is_far = |hole: &Hole| gap_m(hole) > GAP_MAX_M.min(GAP_MAX_STEPS * step_m);
    let far: Vec<&Hole> = holes.iter().filter(|hole| is_far(hole)).collect();
    if holes.len() > 2 && far.len() < holes.len() { far } else { Vec::new() }
}

#[cfg(test)]
mod tests {
    use crate::plow::read_plow_text;
    use std::path::Path;

    const MM: &str = include_str!("../../../sample-runs/plows/two-bottom.toml");
    const IN: &str = include_str!("../../../sample-runs/plows/wide-on-narrow.toml");

    fn asked(text: &str, changes: &[(&str, &str)]) -> String {
        let text = changes.iter().fold(text.to_owned(), |text, (from, to)| {
            assert!(text.contains(from), "{from}");
            text.replacen(from, to, 1)
        });
        let plow = read_plow_text(&text, Path::new("p.toml")).unwrap_or_else(|error| panic!("{error}"));
        plow.doubts().collect::<Vec<_>>().join("\n")
    }

    /// Of a plow in mm and of one in inches; the slips of a tape that a stranger's plowman made.
    #[test]
    fn the_slips_of_a_tape_are_questioned_in_either_unit() {
        let holes = "holes = [{ name = \"low\", z = \"8 in\" }, { name = \"high\", z = \"10 in\" }]";
        let row = |last: &str| {
            format!(
                "holes = [{{ name = \"1\", z = \"3 1/4 in\" }}, {{ name = \"low\", z = \"5 in\" }}, {{ name = \"high\", z = \"{last}\" }}]"
            )
        };
        let (far, near) = (row("32.5 in"), row("8 in"));
        for (text, changes, wanted) in [
            (MM, vec![("\"-600 mm ± 10 mm\"", "\"-1300 mm\"")], "weight.x: -1300 mm puts 68 %"),
            (MM, vec![("3400 N ± 60 N", "1075 N")], "weight.total: 1075 N is little"),
            // More than the least weight of two bottoms, and less than the spring was measured to.
            (MM, vec![("3400 N ± 60 N", "1900 N")], "weight.total: 1900 N is little"),
            (MM, vec![("x = \"300 mm ± 5 mm\"", "x = \"-300 mm\"")], "plow_hitch.x: -300 mm is behind"),
            (MM, vec![("\"355 mm\"", "\"710 mm\"")], "bottoms.cut_width: 710 mm is wide"),
            (MM, vec![("\"7 in ± 5 mm\"", "\"825 mm\"")], "hole \"7\" at 825 mm is far"),
            (MM, vec![("\"9 in ± 5 mm\"", "\"13 in ± 5 mm\"")], "hole \"9\" at 13 in is far"),
            (IN, vec![("total = \"1400 lbf\"", "total = \"480 lbf\"")], "weight.total: 480 lbf is little"),
            (IN, vec![(holes, far.as_str())], "hole \"high\" at 32 1/2 in is far"),
            (IN, vec![(holes, near.as_str())], ""),
        ] {
            let said = asked(text, &changes).replace("32.5", "32 1/2");
            assert!(said.contains(wanted) && (said.lines().count() <= 1), "{wanted}: {said}");
            assert_eq!(said.is_empty(), wanted.is_empty(), "{said}");
        }
        assert_eq!(asked(MM, &[]), "");
        assert_eq!(asked(IN, &[]), "");
    }
}
