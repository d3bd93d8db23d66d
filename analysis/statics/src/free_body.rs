//! Every force on the plow with its place: what the force diagram draws, and the check of the closed forms.

use super::side::{Carrier, Loads, PointM, SideView, StaticsError};
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
    pub at: PointM,
    /// Forward part.
    pub x_n: f64,
    /// Upward part.
    pub z_n: f64,
}

/// What is left when all forces are added up; nothing, if the loads are right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Imbalance {
    /// Forward.
    pub x_n: f64,
    /// Up.
    pub z_n: f64,
    /// About the origin, nose up positive.
    pub moment_n_m: f64,
}

/// The five forces on a plow, and its loads.
///
/// # Errors
/// As [`SideView::loads`].
pub fn free_body(side: &SideView) -> Result<(Loads, [AppliedForce; 5]), StaticsError> {
    let loads = side.loads()?;
    let carrier = |kind, carrier: Carrier, load_n: f64| AppliedForce {
        kind,
        at: carrier.at,
        x_n: -carrier.resistance * load_n,
        z_n: load_n,
    };
    let forces = [
        AppliedForce {
            kind: ForceKind::Weight,
            // A vertical line has no height of its own; the steady point is where the diagram needs it.
            at: loads.steady_point,
            x_n: 0.0,
            z_n: -side.weight_n,
        },
        AppliedForce {
            kind: ForceKind::Pull,
            at: side.plow_hitch,
            x_n: loads.pull_x_n,
            z_n: loads.drawbar_slope * loads.pull_x_n,
        },
        AppliedForce {
            kind: ForceKind::Soil,
            at: side.soil_at,
            x_n: -side.soil_draft_n,
            z_n: side.soil_slope * side.soil_draft_n,
        },
        carrier(ForceKind::Front, side.front, loads.front_load_n),
        carrier(ForceKind::Tail, side.tail, loads.tail_load_n),
    ];
    Ok((loads, forces))
}

/// Adds forces up: the three equations of equilibrium of a plane body.
#[must_use]
pub fn imbalance(forces: &[AppliedForce]) -> Imbalance {
    let sum = |part: fn(&AppliedForce) -> f64| forces.iter().map(part).sum();
    Imbalance {
        x_n: sum(|f| f.x_n),
        z_n: sum(|f| f.z_n),
        moment_n_m: sum(|f| f.at.x_m * f.z_n - f.at.z_m * f.x_n),
    }
}
