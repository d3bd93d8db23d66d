//! Which channels a verdict needs: the pull, the depth, and something of what the plow is carried by.

use super::{ChannelRole, Kind, PartNames, Plow, Tail};
use std::collections::BTreeSet;

/// A load that a pass is judged by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CarriedLoad {
    /// Of what carries the tail, by a load cell.
    Tail,
    /// Of the tail wheel, by the deflection of its spring.
    TailSpring,
    /// Of what carries the front.
    Front,
    /// The force along the top link of a mounted plow: with the pull it says what the links carry.
    TopLink,
}

impl CarriedLoad {
    /// In the order in which they are preferred: a cell to a spring, and the tail, of which the balance is asked, to
    /// the rest.
    const ALL: [Self; 4] = [Self::Tail, Self::TailSpring, Self::Front, Self::TopLink];

    /// The channel that measures it.
    #[must_use]
    pub const fn role(self) -> ChannelRole {
        match self {
            Self::Tail => ChannelRole::TailLoad,
            Self::TailSpring => ChannelRole::Tail,
            Self::Front => ChannelRole::FrontLoad,
            Self::TopLink => ChannelRole::TopLink,
        }
    }

    /// What the load is called on a plow with these parts.
    #[must_use]
    pub fn name(self, parts: &PartNames) -> &'static str {
        match self {
            Self::Tail | Self::TailSpring => parts.tail_load,
            Self::Front => parts.front_load,
            Self::TopLink => "top-link force",
        }
    }

    /// The one that a pass with these channels is judged by.
    #[must_use]
    pub fn of(has: impl Fn(ChannelRole) -> bool) -> Option<Self> {
        Self::ALL.into_iter().find(|load| has(load.role()))
    }
}

/// The channels that a verdict needs at the same moments, the one that the pass is judged by first: pull, depth and
/// one carried load, of those that are there. Without a pull the forces along both kinds of link stand for it.
#[must_use]
pub fn needed_at_once(has: impl Fn(ChannelRole) -> bool) -> Vec<ChannelRole> {
    let mut roles: Vec<ChannelRole> = CarriedLoad::of(&has).map(CarriedLoad::role).into_iter().collect();
    roles.push(ChannelRole::Depth);
    match has(ChannelRole::Pull) {
        true => roles.push(ChannelRole::Pull),
        false => roles.extend([ChannelRole::LowerLinks, ChannelRole::TopLink]),
    }
    roles.retain(|role| has(*role));
    // The top link's force can be both what the pass is judged by and half of the pull.
    let mut seen = BTreeSet::new();
    roles.retain(|role| seen.insert(*role));
    roles
}

impl Plow {
    /// Why a channel says nothing of this plow; `None` if it does.
    #[must_use]
    pub fn cannot_use(&self, role: ChannelRole) -> Option<&'static str> {
        let mounted = self.kind() == Kind::Mounted;
        match role {
            ChannelRole::Tail if self.tail.wheel().is_none() => {
                Some("the plow has no [tail_wheel] with a load table")
            }
            ChannelRole::LowerLinks | ChannelRole::TopLink if !mounted => {
                Some("the plow has no [top_link] with [lower_links]")
            }
            ChannelRole::FrontHeight if mounted => Some("nothing is worked out from it on a mounted plow"),
            ChannelRole::DrawbarAngle if mounted => Some("a mounted plow has no drawbar"),
            _ => None,
        }
    }

    /// What is missing for a verdict among the channels that are there, and what would do for this kind of plow, as
    /// a clause; `None` if nothing is.
    #[must_use]
    pub fn missing_for_a_verdict(&self, has: impl Fn(ChannelRole) -> bool) -> Option<String> {
        use ChannelRole::{Depth, DrawbarAngle, FrontHeight, LowerLinks, Pitch, Pull, TopLink};
        let has = |role| has(role) && self.cannot_use(role).is_none();
        let mounted = self.kind() == Kind::Mounted;
        let pulled = has(Pull) || (has(LowerLinks) && has(TopLink));
        let posed = has(DrawbarAngle) && (has(Pitch) || has(FrontHeight));
        let carried = CarriedLoad::of(has).is_some() || posed;
        let missing = match (pulled, has(Depth), carried) {
            (false, ..) if mounted => "no column pull_n, nor lower_links_n with top_link_n",
            (false, ..) => "no column pull_n",
            (_, false, _) => "no column depth_mm",
            (.., false) => "no column of what the plow is carried by",
            (true, true, true) => return None,
        };
        Some(format!("{missing}: a verdict needs the pull, depth_mm and {}", self.what_would_do()))
    }

    /// Columns any one of which is enough beside pull and depth.
    fn what_would_do(&self) -> String {
        let parts = self.part_names();
        let tail = match self.tail {
            Tail::Wheel(_) => {
                "tail_mm (tail-wheel spring) or tail_load_n (tail wheel on a load cell)".to_owned()
            }
            _ => format!("tail_load_n ({} on a load cell)", parts.tail),
        };
        let front = match self.kind() {
            Kind::Trailed => ", front_load_n (front wheels)",
            Kind::SemiMounted => ", front_load_n (what the lower links hold up)",
            Kind::Mounted => return format!("one of {tail} or top_link_n (force along the top link)"),
            Kind::Walking => "",
        };
        format!(
            "one of {tail}{front} or drawbar_deg ({} inclinometer) with pitch_deg or front_height_mm",
            parts.member
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plow::read_plow;
    use ChannelRole::{
        Depth, DrawbarAngle, FrontLoad, LowerLinks, Pitch, Pull, Tail as Spring, TailLoad, TopLink,
    };
    use std::path::Path;

    /// Sets of channels.
    type Sets = &'static [&'static [ChannelRole]];

    fn example(file: &str) -> Plow {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/plows");
        read_plow(&folder.join(file)).unwrap()
    }

    #[test]
    fn any_one_of_what_carries_is_enough_and_pull_and_depth_are_not() {
        let rows: [(&str, Sets, Sets, &str); 5] = [
            (
                "two-bottom.toml",
                &[&[Spring], &[TailLoad], &[FrontLoad], &[DrawbarAngle, Pitch]],
                &[&[], &[TopLink], &[DrawbarAngle], &[Pitch]],
                "tail_mm (tail-wheel spring) or tail_load_n (tail wheel on a load cell), front_load_n",
            ),
            (
                "three-bottom-rolling-landside.toml",
                &[&[TailLoad], &[FrontLoad]],
                &[&[Spring]],
                "tail_load_n (rolling landside on a load cell), front_load_n (front wheels)",
            ),
            (
                "one-bottom-walking.toml",
                &[&[TailLoad]],
                &[&[]],
                "tail_load_n (heel on a load cell) or drawbar_deg (chain",
            ),
            (
                "four-bottom-semi-mounted.toml",
                &[&[Spring], &[FrontLoad]],
                &[&[LowerLinks]],
                "lower links hold up",
            ),
            (
                "three-bottom-mounted.toml",
                &[&[TopLink], &[TailLoad]],
                &[&[LowerLinks], &[DrawbarAngle, Pitch]],
                "top_link_n",
            ),
        ];
        for (file, enough, not_enough, said) in rows {
            let plow = example(file);
            let missing = |with: &[ChannelRole]| {
                plow.missing_for_a_verdict(|role| [Pull, Depth].contains(&role) || with.contains(&role))
            };
            for with in enough {
                assert_eq!(missing(with), None, "{file} {with:?}");
            }
            for with in not_enough {
                let sentence = missing(with).unwrap();
                assert!(
                    sentence.contains(said) && sentence.starts_with("no column of what"),
                    "{file}: {sentence}"
                );
            }
            assert!(
                plow.missing_for_a_verdict(|role| role == TailLoad || role == Depth)
                    .unwrap()
                    .contains("pull_n")
            );
            assert!(
                plow.missing_for_a_verdict(|role| role == TailLoad || role == Pull)
                    .unwrap()
                    .contains("depth_mm")
            );
        }
        let mounted = example("three-bottom-mounted.toml");
        assert_eq!(mounted.missing_for_a_verdict(|role| [LowerLinks, TopLink, Depth].contains(&role)), None);
    }

    #[test]
    fn what_the_pass_is_judged_by_comes_first_and_nothing_twice() {
        let of = |there: &[ChannelRole]| needed_at_once(|role| there.contains(&role));
        assert_eq!(of(&[Pull, Spring, Depth, FrontLoad]), [Spring, Depth, Pull]);
        assert_eq!(of(&[Pull, Spring, Depth, TailLoad]), [TailLoad, Depth, Pull]);
        assert_eq!(of(&[LowerLinks, TopLink, Depth]), [TopLink, Depth, LowerLinks]);
        assert_eq!(of(&[Pull, Depth, DrawbarAngle]), [Depth, Pull]);
    }

    #[test]
    fn a_channel_that_says_nothing_of_this_plow_is_refused_with_why() {
        use ChannelRole::FrontHeight;
        let (trailed, mounted) = (example("two-bottom.toml"), example("three-bottom-mounted.toml"));
        let no_wheel = example("three-bottom-rolling-landside.toml");
        assert_eq!(trailed.cannot_use(Spring), None);
        assert_eq!(no_wheel.cannot_use(Spring), Some("the plow has no [tail_wheel] with a load table"));
        for role in [LowerLinks, TopLink] {
            assert_eq!(trailed.cannot_use(role), Some("the plow has no [top_link] with [lower_links]"));
            assert_eq!(mounted.cannot_use(role), None);
        }
        for (role, why) in [
            (FrontHeight, "nothing is worked out from it on a mounted plow"),
            (DrawbarAngle, "a mounted plow has no drawbar"),
        ] {
            assert_eq!((mounted.cannot_use(role), trailed.cannot_use(role)), (Some(why), None), "{role:?}");
        }
    }

    /// Either link alone is no pull, and the height of the front stands for the pitch beside the drawbar's angle.
    #[test]
    fn half_a_pull_is_none_and_the_sentence_says_what_kind_of_pull_is_missing() {
        let (trailed, mounted) = (example("two-bottom.toml"), example("three-bottom-mounted.toml"));
        let missing =
            |plow: &Plow, there: &[ChannelRole]| plow.missing_for_a_verdict(|role| there.contains(&role));
        for half in [[LowerLinks, TailLoad, Depth], [TopLink, TailLoad, Depth]] {
            let sentence = missing(&mounted, &half).unwrap();
            assert!(
                sentence.starts_with("no column pull_n, nor lower_links_n with top_link_n: "),
                "{sentence}"
            );
        }
        let sentence = missing(&trailed, &[LowerLinks, TopLink, TailLoad, Depth]).unwrap();
        assert!(
            sentence.starts_with("no column pull_n: "),
            "links are no pull of a trailed plow: {sentence}"
        );
        assert_eq!(missing(&trailed, &[Pull, Depth, DrawbarAngle, ChannelRole::FrontHeight]), None);
    }
}
