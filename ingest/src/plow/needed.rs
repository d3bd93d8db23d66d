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
mod tests;
