//! Every force on the plow with its place: what the force diagram draws, and the check of the closed forms.

use super::side::{Carrier, Loads, Point, SideView, StaticsError};
use ingest::quantity::{Force, Moment, in_si};
use serde::Serialize;

/// Which force.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
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
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
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

/// What is left when all forces are added up; nothing, if the loads are right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Imbalance {
    /// Forward.
    pub x: Force,
    /// Up.
    pub z: Force,
    /// About the origin, nose up positive.
    pub moment: Moment,
}

/// The five forces on a plow, and its loads.
///
/// # Errors
/// As [`SideView::loads`].
pub fn free_body(side: &SideView) -> Result<(Loads, [AppliedForce; 5]), StaticsError> {
    let loads = side.loads()?;
    let carrier = |kind, carrier: Carrier, load: Force| AppliedForce {
        kind,
        at: carrier.at,
        x: Force::from_n(-carrier.resistance * load.n()),
        z: load,
    };
    let forces = [
        AppliedForce {
            kind: ForceKind::Weight,
            // A vertical line has no height of its own; the steady point is where the diagram needs it.
            at: loads.steady_point,
            x: Force::from_n(0.0),
            z: Force::from_n(-side.weight.n()),
        },
        AppliedForce {
            kind: ForceKind::Pull,
            at: side.plow_hitch,
            x: loads.pull_x,
            z: Force::from_n(loads.drawbar_slope * loads.pull_x.n()),
        },
        AppliedForce {
            kind: ForceKind::Soil,
            at: side.soil_at,
            x: Force::from_n(-side.soil_draft.n()),
            z: Force::from_n(side.soil_slope * side.soil_draft.n()),
        },
        carrier(ForceKind::Front, side.front, loads.front_load),
        carrier(ForceKind::Tail, side.tail, loads.tail_load),
    ];
    Ok((loads, forces))
}

/// Adds forces up: the three equations of equilibrium of a plane body.
pub fn imbalance(forces: &[AppliedForce]) -> Imbalance {
    let sum = |part: fn(&AppliedForce) -> f64| forces.iter().map(part).sum();
    Imbalance {
        x: Force::from_n(sum(|f| f.x.n())),
        z: Force::from_n(sum(|f| f.z.n())),
        moment: Moment::from_n_m(sum(|f| f.at.x.m() * f.z.n() - f.at.z.m() * f.x.n())),
    }
}
