//! The plow in the top view: pull through the pin and the centre of resistance, the furrow wall, and friction.
//!
//! The centre of resistance is what the trade means by it: the point that the resultant of all soil forces passes
//! through, landsides and friction included. With the lead tan ψ = (y_p − y_r)/(x_p − x_r), soil draft S, its push
//! toward the wall κS, and the wall's friction μ: N = κS + P_x·tan ψ and P_x = S + μN, so
//! P_x = S(1 + μκ)/(1 − μ·tan ψ). Rolling resistance is left in S. The forces of the list are taken to act at the
//! x of the centre, so that a moved pin changes N by what a rigid plow on its pin would, ∂N/∂y_p = P_x/(x_p − x_r).

use super::{TopError, TopForce, TopForceKind, TopPoint};
use ingest::quantity::{Angle, Force, Length, in_si};
use schemars::JsonSchema;
use serde::Serialize;

/// How the plow is pulled.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PulledPlow {
    /// Center of resistance.
    pub centre: TopPoint,
    /// Pin at the tractor.
    pub pin: TopPoint,
    /// t: rise of the line of pull per length forward.
    pub pull_slope: f64,
    /// S: draft of the soil without the friction at the furrow wall.
    #[serde(rename = "soil_draft_n", serialize_with = "in_si")]
    pub soil_draft: Force,
    /// κ: push of the soil toward the wall, over S.
    pub side_share: f64,
    /// μ: friction of the landsides.
    pub landside_friction: f64,
    /// The wall that the landsides press on; it is left of the center for bottoms that throw to the right.
    #[serde(rename = "wall_y_m", serialize_with = "in_si")]
    pub wall_y: Length,
}

/// The parts of a pull on the plow.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PullParts {
    /// Draft, forward.
    #[serde(rename = "x_n", serialize_with = "in_si")]
    pub x: Force,
    /// To the left.
    #[serde(rename = "y_n", serialize_with = "in_si")]
    pub y: Force,
    /// Up.
    #[serde(rename = "z_n", serialize_with = "in_si")]
    pub z: Force,
}

impl PullParts {
    /// The parts at a draft, for a line that rises `slope` and leads `lead` to the left per length forward.
    pub fn of_draft(draft: Force, slope: f64, lead: f64) -> Self {
        Self { x: draft, y: Force::from_n(draft.n() * lead), z: Force::from_n(draft.n() * slope) }
    }

    /// The whole pull.
    pub fn total(self) -> Force {
        Force::from_n(self.x.n().hypot(self.y.n()).hypot(self.z.n()))
    }
}

/// What follows for the plow.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PlowForces {
    /// The pull on it.
    pub pull: PullParts,
    /// ψ, left positive.
    #[serde(rename = "lead_deg", serialize_with = "in_si")]
    pub lead: Angle,
    /// S_y: push of the soil toward the wall.
    #[serde(rename = "soil_side_n", serialize_with = "in_si")]
    pub soil_side: Force,
    /// N: press of the landsides on the wall, not below 0.
    #[serde(rename = "landside_n", serialize_with = "in_si")]
    pub landside: Force,
    /// μN.
    #[serde(rename = "friction_n", serialize_with = "in_si")]
    pub friction: Force,
    /// Whether the landsides are on the wall; if not, nothing holds the plow from swinging away from it, and the
    /// sideways forces of the list do not add up to nothing.
    pub landside_holds: bool,
}

impl PulledPlow {
    /// The plow with the soil draft that goes with a draft of `pull_x` at the pin.
    ///
    /// # Errors
    /// As [`Self::forces`].
    pub fn with_draft(self, pull_x: Force) -> Result<Self, TopError> {
        let pull_x_n = pull_x.n();
        let (_, toward) = self.leads()?;
        let (mu, kappa) = (self.landside_friction, self.side_share);
        let held_n = pull_x_n * (1.0 - mu * toward) / (1.0 + mu * kappa);
        let soil_draft_n = if kappa * held_n + toward * pull_x_n >= 0.0 { held_n } else { pull_x_n };
        Ok(Self { soil_draft: Force::from_n(soil_draft_n), ..self })
    }

    /// The same plow with its pin at another place across.
    #[must_use]
    pub fn with_pin_y(self, y: Length) -> Self {
        Self { pin: TopPoint { y, ..self.pin }, ..self }
    }

    /// The forces that follow from the equations at the head of this file.
    ///
    /// # Errors
    /// [`TopError::PinNotAhead`], [`TopError::SidewaysPull`], [`TopError::NotFinite`].
    pub fn forces(&self) -> Result<PlowForces, TopError> {
        let (lead, toward) = self.leads()?;
        let (s_n, mu) = (self.soil_draft.n(), self.landside_friction);
        let soil_side_n = self.side_share * s_n;
        let held_x_n = s_n * (1.0 + mu * self.side_share) / (1.0 - mu * toward);
        let press_n = soil_side_n + toward * held_x_n;
        let landside_holds = press_n >= 0.0;
        let landside_n = press_n.max(0.0);
        let friction_n = mu * landside_n;
        let pull = PullParts::of_draft(Force::from_n(s_n + friction_n), self.pull_slope, lead);
        if !pull.total().n().is_finite() {
            return Err(TopError::NotFinite);
        }
        Ok(PlowForces {
            pull,
            lead: Angle::from_deg(lead.atan().to_degrees()),
            soil_side: Force::from_n(soil_side_n),
            landside: Force::from_n(landside_n),
            friction: Force::from_n(friction_n),
            landside_holds,
        })
    }

    /// Every horizontal force on the plow.
    pub fn force_list(&self, forces: &PlowForces) -> Vec<TopForce> {
        let side = self.wall_side();
        let wall = TopPoint { y: self.wall_y, ..self.centre };
        // Friction at the wall turns the plow toward it; the soil's own line is as far from the centre as undoes that.
        let (draft_n, friction_n) = (self.soil_draft.n(), forces.friction.n());
        let wall_off_m = self.wall_y.m() - self.centre.y.m();
        let soil_off_m = if draft_n > 0.0 { friction_n * wall_off_m / draft_n } else { 0.0 };
        let soil = TopPoint { y: Length::from_m(self.centre.y.m() - soil_off_m), ..self.centre };
        vec![
            TopForce::of(TopForceKind::Soil, soil, -draft_n, side * forces.soil_side.n()),
            TopForce::of(TopForceKind::Landside, wall, 0.0, -side * forces.landside.n()),
            TopForce::of(TopForceKind::LandsideFriction, wall, -friction_n, 0.0),
            TopForce::of(TopForceKind::Pull, self.pin, forces.pull.x.n(), forces.pull.y.n()),
        ]
    }

    /// Which side of the center the wall is on: +1 left, −1 right.
    fn wall_side(&self) -> f64 {
        (self.wall_y.m() - self.centre.y.m()).signum()
    }

    /// tan ψ, left positive, and the same toward the wall positive.
    fn leads(&self) -> Result<(f64, f64), TopError> {
        let ahead_m = self.pin.x.m() - self.centre.x.m();
        let lead = (self.pin.y.m() - self.centre.y.m()) / ahead_m;
        let numbers =
            [self.pull_slope, self.soil_draft.n(), self.side_share, self.landside_friction, self.wall_y.m()];
        if !lead.is_finite() && ahead_m != 0.0 || numbers.iter().any(|number| !number.is_finite()) {
            return Err(TopError::NotFinite);
        }
        if ahead_m <= 0.0 {
            return Err(TopError::PinNotAhead { ahead: Length::from_m(ahead_m) });
        }
        if lead.abs() >= 1.0 {
            return Err(TopError::SidewaysPull { lead: Angle::from_deg(lead.atan().to_degrees()) });
        }
        Ok((lead, lead * self.wall_side()))
    }
}
