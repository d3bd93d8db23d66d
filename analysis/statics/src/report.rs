//! What is known of a plow before any run: its force diagram, what each pair of holes would do, and the draft
//! to be expected.

use super::draft::{ExpectedDraft, moldboard_draft};
use super::identify::IdentifyError;
use super::plow_model::{Links, link_forces};
use super::predict::{Along, CANNOT_BE_MAX, HolePairs, NoChoice, Nominal, Prediction, hole_table, nominal};
use super::sensitivity::{Sensitivity, sensitivities};
use super::side::{Carrier, Loads, Point, SideView, StaticsError};
use super::what_if::WhatIf;
use ingest::plow::{PartNames, Plow, Setting, SoilClass};
use ingest::quantity::{Force, Length, Speed, in_si};
use schemars::JsonSchema;
use serde::Serialize;

/// Step of pins and places in the table of sensitivities: an inch.
pub const STEP: Length = Length::from_m(0.0254);

/// Which force.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ForceKind {
    /// Weight of the plow.
    Weight,
    /// Pull on the plow, along the drawbar, or level where links meet.
    Pull,
    /// Soil on all bottoms.
    Soil,
    /// What carries the front: load and resistance.
    Front,
    /// What carries the tail: load and resistance.
    Tail,
}

/// One force on the plow.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct AppliedForce {
    /// Which.
    pub kind: ForceKind,
    /// A point on its line.
    pub at: Point,
    /// Forward part.
    #[serde(rename = "x_n", serialize_with = "in_si")]
    pub x: Force,
    /// Upward part.
    #[serde(rename = "z_n", serialize_with = "in_si")]
    pub z: Force,
}

/// The five forces on a plow, and its loads.
///
/// # Errors
/// As [`SideView::loads`].
pub fn free_body(side: &SideView) -> Result<(Loads, [AppliedForce; 5]), StaticsError> {
    let loads = side.loads()?;
    let (pull_x_n, draft_n) = (loads.pull_x.n(), side.soil_draft.n());
    let force = |kind, at, x_n, z_n| AppliedForce { kind, at, x: Force::from_n(x_n), z: Force::from_n(z_n) };
    let carrier = |kind, carrier: Carrier, load: Force| {
        force(kind, carrier.at, -carrier.resistance * load.n(), load.n())
    };
    let forces = [
        // A vertical line has no height of its own; the steady point is where the diagram needs it.
        force(ForceKind::Weight, loads.steady_point, 0.0, -side.weight.n()),
        force(ForceKind::Pull, side.plow_hitch, pull_x_n, loads.drawbar_slope * pull_x_n),
        force(ForceKind::Soil, side.soil_at, -draft_n, side.soil_slope * draft_n),
        carrier(ForceKind::Front, side.front, loads.front_load),
        carrier(ForceKind::Tail, side.tail, loads.tail_load),
    ];
    Ok((loads, forces))
}

/// The draft of the standard for a plow, and what it was asked for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct DraftCheck {
    /// Soil class of ASABE D497.
    pub soil: SoilClass,
    /// Forward speed.
    #[serde(rename = "speed_mps", serialize_with = "in_si")]
    pub speed: Speed,
    /// Depth.
    #[serde(rename = "depth_m", serialize_with = "in_si")]
    pub depth: Length,
    /// The draft, and the standard's range.
    pub expected: ExpectedDraft,
}

/// The draft that ASABE D497.7 has for the bottoms of a plow, at a depth if it is not the described one.
pub fn draft_check(plow: &Plow, soil: SoilClass, speed: Speed, depth: Option<Length>) -> DraftCheck {
    let depth = depth.unwrap_or(plow.bottoms.depth);
    let expected = moldboard_draft(soil, speed, Length::from_m(plow.total_cut_m()), depth);
    DraftCheck { soil, speed, depth, expected }
}

/// The links of a mounted plow and what they carry.
#[derive(Clone, Copy, Debug, Serialize, JsonSchema)]
pub struct LinksReport {
    /// Pins, and where their lines meet.
    pub links: Links,
    /// Along the lower links, all together; pulling +.
    #[serde(rename = "lower_n", serialize_with = "in_si")]
    pub lower: Force,
    /// Along the top link; pulling +, pushing −.
    #[serde(rename = "top_n", serialize_with = "in_si")]
    pub top: Force,
}

/// A plow in one setting at one pull.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct StaticsReport {
    /// The plow's name.
    pub plow: String,
    /// The setting's name.
    pub setting: String,
    /// Hole at the plow.
    pub plow_hole: String,
    /// Hole at the tractor.
    pub tractor_hole: String,
    /// The plow with every input at its middle.
    pub side: SideView,
    /// The same, to move its pins.
    #[serde(skip)]
    pub nominal: Nominal,
    /// What its parts are called.
    #[serde(skip)]
    pub parts: PartNames,
    /// Links of a mounted plow, and the forces along them.
    pub links: Option<LinksReport>,
    /// What is known of the pull: in other holes the soil's draft stays, and the pull changes.
    pub along: Along,
    /// Its loads.
    pub loads: Loads,
    /// The forces on it, for the diagram.
    pub forces: [AppliedForce; 5],
    /// Draft to be expected, if soil and speed are known.
    pub draft: Option<DraftCheck>,
    /// What changes with each thing that can be moved, or is not known well, at steps of [`STEP`].
    pub sensitivity: Vec<Sensitivity>,
    /// What moves that were asked about would do.
    pub what_if: Option<WhatIf>,
    /// What each pair of holes would do, with the uncertainty of description and soil.
    pub holes: Vec<Prediction>,
    /// The other pairs: most cases cannot be.
    pub no_choice: Vec<NoChoice>,
}

impl StaticsReport {
    /// All pairs of holes of the description.
    pub fn pairs(&self) -> usize {
        self.holes.len() + self.no_choice.len()
    }

    /// The `count` pairs of holes nearest to balance, of those in which the plow can hardly fail to stand, with the
    /// pair in use and `beside`, in the order of the description.
    pub fn nearest_to_balance(&self, count: usize, beside: Option<&Prediction>) -> Vec<&Prediction> {
        let distance = |hole: &Prediction| hole.balance_index.value.abs();
        let mut nearest: Vec<(usize, &Prediction)> = self.holes.iter().enumerate().collect();
        // Of pairs as far as each other (a wheel off the ground in all of them) the first of the description go before.
        nearest.sort_by(|(_, one), (_, other)| distance(one).total_cmp(&distance(other)));
        let sure = |hole: &Prediction| hole.cannot_be_probability <= CANNOT_BE_MAX;
        let stands = nearest.iter().filter(|(_, hole)| sure(hole)).count();
        nearest.sort_by_key(|(_, hole)| !sure(hole));
        let (kept, left) = nearest.split_at(count.min(stands));
        let besides = left.iter().filter(|(_, hole)| hole.is_now || Some(*hole) == beside);
        let mut wanted: Vec<(usize, &Prediction)> = kept.iter().chain(besides).copied().collect();
        wanted.sort_by_key(|(place, _)| *place);
        wanted.into_iter().map(|(_, hole)| hole).collect()
    }
}

/// Works out everything about a plow in a setting at a pull along the drawbar or a draft of the soil; the same for the same `seed`.
///
/// # Errors
/// As [`nominal`] and [`hole_table`].
pub fn statics_report(
    plow: &Plow,
    (setting_name, setting): (&str, &Setting),
    along: impl Into<Along>,
    draft: Option<DraftCheck>,
    seed: u64,
) -> Result<StaticsReport, IdentifyError> {
    let along = along.into();
    let nominal = nominal(plow, setting, along)?;
    let HolePairs { predictions, no_choice } = hole_table(plow, setting, along, seed)?;
    let side = nominal.side;
    let (loads, forces) = free_body(&side)?;
    let links = nominal.links.map(|links| {
        let (lower, top) = link_forces(&links, loads.pull_x, loads.front_load);
        LinksReport { links, lower, top }
    });
    Ok(StaticsReport {
        plow: plow.name.clone(),
        setting: setting_name.to_owned(),
        plow_hole: setting.plow_hole.name.clone(),
        tractor_hole: setting.tractor_hole.name.clone(),
        side,
        nominal,
        parts: plow.part_names(),
        links,
        along,
        loads,
        forces,
        draft,
        sensitivity: sensitivities(&nominal, STEP),
        what_if: None,
        holes: predictions,
        no_choice,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::{plow, setting};

    /// Found on a walking plow with a wheel off the ground in most pairs: "the 18 pairs nearest to balance" were all 24.
    #[test]
    fn pairs_as_far_as_each_other_are_no_more_than_were_asked_for() {
        let (plow, holes) = (plow(), setting("4", "4"));
        let mut report = statics_report(&plow, ("driven", &holes), Force::from_n(8_000.0), None, 1).unwrap();
        report.holes.iter_mut().skip(2).for_each(|hole| hole.balance_index.value = 1.0);
        let shown = report.nearest_to_balance(6, None);
        let in_use = report.holes.iter().filter(|hole| hole.is_now).count();
        assert!(report.holes.len() > 10 && (6..=6 + in_use).contains(&shown.len()), "{}", shown.len());
        let places: Vec<usize> = shown
            .iter()
            .filter_map(|one| report.holes.iter().position(|hole| std::ptr::eq(hole, *one)))
            .collect();
        assert!(places.windows(2).all(|two| two[0] < two[1]) && places.starts_with(&[0, 1]), "{places:?}");
        assert!(shown.iter().any(|hole| hole.is_now));
    }
}
