//! Every force on the plow with its place: what the force diagram draws, and the check of the closed forms.

use super::side::{Carrier, Loads, Point, SideView, StaticsError};
use ingest::quantity::{Force, in_si};
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
