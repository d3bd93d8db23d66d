//! What is possible in a description but unusual: asked, never corrected.

use super::usual::beyond_usual;
use super::{Bottoms, Doubt, Front, Hole, LowerLinks, Plow, Tail};
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
    /// Key of the place of what carries the tail.
    #[must_use]
    pub const fn tail_key(&self) -> &'static str {
        match self.tail {
            Tail::Wheel(_) => "tail_wheel.x",
            Tail::RollingLandside(_) => "rolling_landside.x",
            Tail::Heel(_) => "heel.x",
        }
    }

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
        self.questions().into_iter().map(|doubt| format!("unusual: {}: {}", doubt.key(), doubt.sentence))
    }

    /// What is unusual in the description, each with what to check: at most one of each entry, that which says most.
    #[must_use]
    pub fn questions(&self) -> Vec<Doubt> {
        let mut asked = Vec::new();
        self.question_loads(&mut asked);
        self.question_bottoms(&mut asked);
        self.question_holes(&mut asked);
        for doubt in beyond_usual(self) {
            if !asked.iter().any(|known: &Doubt| known.key() == doubt.key()) {
                asked.push(doubt);
            }
        }
        asked
    }

    /// Whether front and tail carry what they can, and what pulls is where it can be.
    fn question_loads(&self, asked: &mut Vec<Doubt>) {
        let (weight, bottoms) = (&self.weight, &self.bottoms);
        let tail_key = self.tail_key();
        let Some(standing) = self.standing_loads() else {
            if !(self.tail.x().si()..=0.0).contains(&weight.x.si()) {
                asked.push(Doubt::of(
                    &["weight.x", tail_key],
                    format!("the place of the weight, {}", weight.x.value),
                    "the weight is not between what carries the front (0) and the tail".to_owned(),
                ));
            }
            return;
        };
        if !TAIL_SHARE.contains(&standing.tail_share) {
            asked.push(Doubt::of(
                &["weight.x", tail_key],
                format!("the place of the weight, {}", weight.x.value),
                format!(
                    "{} puts {:.0} % of the standing weight on the tail, where {:.0} to {:.0} % is usual: is it \
                     measured back from the front axle, and not from the tail?",
                    weight.x.value,
                    100.0 * standing.tail_share,
                    100.0 * TAIL_SHARE.start(),
                    100.0 * TAIL_SHARE.end()
                ),
            ));
        }
        // A spring that is measured up to more than the plow weighs carries a larger one.
        let table_n = self.tail.wheel().and_then(|wheel| wheel.load_table.lines().last());
        let is_less_than_table = table_n.is_some_and(|(_, load)| weight.total.si() < load.n());
        if is_less_than_table || weight.total.si() < BOTTOM_MIN_N * f64::from(bottoms.count) {
            asked.push(Doubt::of(
                &["weight.total", "bottoms.count"],
                format!("the weight of the plow, {}", weight.total.value),
                format!(
                    "{} is little for a plow on wheels with {}: is it what front and tail weigh together, and \
                     not the tail alone?",
                    weight.total.value,
                    if bottoms.count == 1 {
                        "a bottom".to_owned()
                    } else {
                        format!("{} bottoms", bottoms.count)
                    }
                ),
            ));
        }
        if self.plow_hitch.x.si() < 0.0 {
            asked.push(Doubt::of(
                &["plow_hitch.x"],
                format!("the place of the hitch, {}", self.plow_hitch.x.value),
                format!(
                    "{} is behind the front axle, where a hitch is seldom: forward of the axle has no minus",
                    self.plow_hitch.x.value
                ),
            ));
        }
    }

    fn question_bottoms(&self, asked: &mut Vec<Doubt>) {
        let Bottoms { count, cut_width, depth, x, .. } = self.bottoms;
        if count > 1 && cut_width.m() > CUT_MAX_M {
            asked.push(Doubt::of(
                &["bottoms.cut_width", "bottoms.count"],
                format!("a width of cut of {cut_width}"),
                format!("{cut_width} is wide for one bottom: is it the cut of one, and not of all {count}?"),
            ));
        }
        if depth.m() > cut_width.m() {
            asked.push(Doubt::of(
                &["bottoms.depth", "bottoms.cut_width"],
                format!("a working depth of {depth}"),
                format!("{depth} is deeper than a bottom is wide ({cut_width})"),
            ));
        }
        if self.tail.x().si() >= x.si() {
            asked.push(Doubt::of(
                &[self.tail_key(), "bottoms.x"],
                format!("the place of the tail, {}", self.tail.x().value),
                format!(
                    "the tail at {} is not behind the middle of the bottoms at {}",
                    self.tail.x().value,
                    x.value
                ),
            ));
        }
    }

    fn question_holes(&self, asked: &mut Vec<Doubt>) {
        let [plow, tractor] = ["plow_hitch.holes", "tractor_hitch.holes"];
        for (key, holes) in [(plow, &self.plow_hitch.holes), (tractor, &self.tractor_hitch.holes)] {
            let far = far_from_others(holes).into_iter().map(|hole| {
                let sentence = format!(
                    "hole \"{}\" at {} is far from the others of its row: is its height written right, with its point?",
                    hole.name, hole.z.value
                );
                Doubt::of(&[key], format!("the height of hole \"{}\", {}", hole.name, hole.z.value), sentence)
            });
            let before = asked.len();
            asked.extend(far);
            if let Some((low, high)) = falling(holes).filter(|_| asked.len() == before) {
                asked.push(Doubt::of(
                    &[key],
                    format!("the height of hole \"{}\", {}", high.name, high.z.value),
                    format!(
                        "hole \"{}\" at {} is not above hole \"{}\" at {}, as in a row that rises from the lowest",
                        high.name, high.z.value, low.name, low.z.value
                    ),
                ));
            }
        }
        let highest = self.plow_hitch.holes.iter().max_by(|one, other| one.z.si().total_cmp(&other.z.si()));
        let Some(highest) = highest else { return };
        if let Some(clear) = self.plow_hitch.clearance_z.filter(|clear| highest.z.si() < clear.m()) {
            asked.push(Doubt::of(
                &["plow_hitch.clearance_z", plow],
                format!("the lowest height at which nothing drags, {clear}"),
                format!("every hole is lower than {clear}, the height at which nothing drags"),
            ));
        }
        if let Front::MeetingLinks(LowerLinks { pins, .. }) = self.front
            && highest.z.si() <= pins.plow_z.si()
        {
            asked.push(Doubt::of(
                &["lower_links.pins.plow_z", plow],
                format!("the height of the lower links' pins, {}", pins.plow_z.value),
                "the top link's holes at the plow are not above the lower links' pins".to_owned(),
            ));
        }
    }
}

/// Two holes that follow each other in a row and do not rise; a row may be written from its highest hole, unless that is
/// number 1.
fn falling(holes: &[Hole]) -> Option<(&Hole, &Hole)> {
    let mut pairs = holes.windows(2).filter_map(|two| match two {
        [low, high] => Some((low, high)),
        _ => None,
    });
    let falls = |(low, high): &(&Hole, &Hole)| high.z.si() <= low.z.si();
    let from_above =
        holes.first().is_some_and(|hole| hole.name != "1") && pairs.clone().all(|pair| falls(&pair));
    pairs.find(falls).filter(|_| !from_above)
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
