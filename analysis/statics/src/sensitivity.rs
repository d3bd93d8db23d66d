//! How much the balance moves with each thing that can be changed or is not known well: the plow is solved anew
//! for every line, with the soil force as it was.

use super::inputs::{Input, Inputs};
use super::predict::Nominal;
use super::side::SideView;
use ingest::quantity::{Force, Length, in_si};
use schemars::JsonSchema;
use serde::Serialize;
use strum::VariantArray;

/// One thing changed, and what that changes.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Sensitivity {
    /// What was changed.
    pub change: Change,
    /// Of e.
    #[serde(rename = "pull_line_offset_m", serialize_with = "in_si")]
    pub pull_line_offset: Length,
    /// Of b.
    pub balance_index: f64,
    /// Of the front load.
    #[serde(rename = "front_load_n", serialize_with = "in_si")]
    pub front_load: Force,
    /// Of the tail load.
    #[serde(rename = "tail_load_n", serialize_with = "in_si")]
    pub tail_load: Force,
    /// Of the load on the tractor.
    #[serde(rename = "tractor_load_n", serialize_with = "in_si")]
    pub tractor_load: Force,
}

/// Things to change. Lengths are steps up, forward or longer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema, strum::VariantArray)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// The pin at the tractor a step up.
    TractorPin,
    /// The pin at the plow a step up.
    PlowPin,
    /// Both pins a step up: the angle stays.
    BothPins,
    /// The member between the pins two steps longer.
    LongerMember,
    /// The weight a step further back.
    WeightBack,
    /// The weight 5 % more.
    MoreWeight,
    /// The soil acts a step deeper.
    SoilDeeper,
    /// The soil slope 0.05 higher: duller shares.
    DullerShares,
    /// The soil's draft 10 % more.
    MoreDraft,
}

impl Change {
    /// Inputs, and the factor of the soil's draft, after the change.
    fn of(self, inputs: &Inputs<f64>, step: Length) -> (Inputs<f64>, f64) {
        let (mut changed, step_m) = (*inputs, step.m());
        let mut add = |input: Input, by: f64| changed[input] = inputs[input] + by;
        match self {
            Self::TractorPin => add(Input::TractorHoleHeight, step_m),
            Self::PlowPin => add(Input::PlowHoleHeight, step_m),
            Self::BothPins => {
                add(Input::TractorHoleHeight, step_m);
                add(Input::PlowHoleHeight, step_m);
            }
            Self::LongerMember => add(Input::MemberLength, 2.0 * step_m),
            Self::WeightBack => add(Input::WeightPlace, -step_m),
            Self::MoreWeight => add(Input::Weight, 0.05 * inputs.weight),
            Self::SoilDeeper => add(Input::SoilHeight, -step_m),
            Self::DullerShares => add(Input::SoilSlope, 0.05),
            Self::MoreDraft => return (changed, 1.1),
        }
        (changed, 1.0)
    }
}

/// What each change does to a plow; a change in which it cannot be has no line. `step` is the step of pins,
/// places and heights.
pub fn sensitivities(nominal: &Nominal, step: Length) -> Vec<Sensitivity> {
    let (plow_model, state) = (&nominal.plow_model, &nominal.state);
    let Ok(now) = nominal.side.loads() else { return Vec::new() };
    let one = |&change: &Change| {
        let (inputs, factor) = change.of(&state.inputs, step);
        let soil_draft = Force::from_n(state.soil_draft.n() * factor);
        let then = SideView { soil_draft, ..plow_model.side_view(&inputs).ok()? }.loads().ok()?;
        Some(Sensitivity {
            change,
            pull_line_offset: then.pull_line_offset - now.pull_line_offset,
            balance_index: then.bounded_balance_index() - now.bounded_balance_index(),
            front_load: then.front_load - now.front_load,
            tail_load: then.tail_load - now.tail_load,
            tractor_load: plow_model.tractor_load(&then) - plow_model.tractor_load(&now),
        })
    };
    Change::VARIANTS.iter().filter_map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::{plow, setting};
    use crate::predict::nominal;

    /// Against the closed forms at ρ = 0: de/dz of each pin, 1 for both together, σ and draft by the lever.
    #[test]
    fn the_lines_are_those_of_the_closed_forms() {
        let mut plow = plow();
        plow.rolling.coefficient = 0.0;
        let nominal = nominal(&plow, &setting("4", "4"), Force::from_n(8_000.0)).unwrap();
        let side = nominal.side;
        let step_m = 1e-5;
        let rows = sensitivities(&nominal, Length::from_m(step_m));
        let of = |change: Change| rows.iter().find(|row| row.change == change).unwrap();
        let reach_m = side.tractor_hitch.x.m() - side.plow_hitch.x.m();
        let lever = (side.weight_x.m() - side.plow_hitch.x.m()) / reach_m;
        // The pin at the tractor swings about the plow's: a little more than straight up.
        let swing = 1.0 + side.drawbar_slope().powi(2);
        let near = |a: f64, b: f64| assert!((a - b).abs() < 1e-3 * b.abs(), "{a} {b}");
        near(of(Change::TractorPin).pull_line_offset.m(), step_m * lever * swing);
        near(of(Change::BothPins).pull_line_offset.m(), step_m);
        near(of(Change::PlowPin).pull_line_offset.m(), step_m * (1.0 - lever * swing));
        near(of(Change::SoilDeeper).pull_line_offset.m(), step_m);
        near(of(Change::DullerShares).pull_line_offset.m(), -0.05 * (side.soil_at.x.m() - side.weight_x.m()));
        let loads = side.loads().unwrap();
        near(of(Change::MoreDraft).tail_load.n(), 0.1 * loads.pull.n() * loads.expected_gain_n_per_n);
        near(of(Change::MoreWeight).tail_load.n(), 0.05 * side.standing_tail_load().n());
        // Nothing is lost: what the carriers gain, the tractor or the soil gives.
        let both = of(Change::TractorPin);
        near(both.front_load.n() + both.tail_load.n(), -both.tractor_load.n());
    }
}
