//! Plow and tractor joined at the pin, every input at one value.

use super::plow::{PlowForces, PulledPlow};
use super::tractor::{Pin, Tractor, TractorForces};
use super::{TopError, TopForce};
use ingest::quantity::{Length, in_si};
use serde::Serialize;

/// Steps of [`TopView::pin_y_for_target`]: friction moves the loads a little with the pin, so a few are enough.
const PIN_STEPS_MAX: usize = 60;

/// Change of the pin's place at which those steps end.
const PIN_STEP_END_M: f64 = 1e-13;

/// Everything that decides the forces of the top view.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TopView {
    /// The plow, and the place of the pin.
    pub plow: PulledPlow,
    /// Height of the pin above the land.
    #[serde(rename = "pin_z_m", serialize_with = "in_si")]
    pub pin_z: Length,
    /// The tractor.
    pub tractor: Tractor,
}

/// What follows from a [`TopView`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TopForces {
    /// Of the plow.
    pub plow: PlowForces,
    /// Of the tractor.
    pub tractor: TractorForces,
}

impl TopView {
    /// The forces on both.
    ///
    /// # Errors
    /// As [`PulledPlow::forces`] and [`Tractor::forces`].
    pub fn forces(&self) -> Result<TopForces, TopError> {
        let plow = self.plow.forces()?;
        let tractor = self.tractor.forces(self.pin(), plow.pull)?;
        Ok(TopForces { plow, tractor })
    }

    /// The horizontal forces on the plow and on the tractor, each with its place.
    pub fn force_lists(&self, forces: &TopForces) -> (Vec<TopForce>, Vec<TopForce>) {
        let on_tractor = self.tractor.force_list(self.pin(), forces.plow.pull, &forces.tractor);
        (self.plow.force_list(&forces.plow), on_tractor)
    }

    /// The same with the pin at another place across and the soil as it was.
    #[must_use]
    pub fn with_pin_y(self, y: Length) -> Self {
        Self { plow: self.plow.with_pin_y(y), ..self }
    }

    /// Place of the pin, left of the middle of the cut, that brings the line of pull to d*: it then runs straight
    /// from the centre of resistance to that point beside the dynamic centre of gravity.
    ///
    /// # Errors
    /// As [`Self::forces`], for the pins tried.
    pub fn pin_y_for_target(&self) -> Result<Length, TopError> {
        let centre = self.plow.centre;
        let target_y_m = self.tractor.middle_y.m() + self.tractor.target_offset().m();
        let to_pin_m = self.plow.pin.x.m() - centre.x.m();
        let mut y_m = self.plow.pin.y.m();
        for _ in 0..PIN_STEPS_MAX {
            let at_gravity_m = self.with_pin_y(Length::from_m(y_m)).forces()?.tractor.dynamic_centre.m();
            let to_gravity_m = to_pin_m + self.tractor.hitch_behind.m() + at_gravity_m;
            let next_m = centre.y.m() + (target_y_m - centre.y.m()) * to_pin_m / to_gravity_m;
            let step_m = (next_m - y_m).abs();
            y_m = next_m;
            if step_m < PIN_STEP_END_M {
                break;
            }
        }
        Ok(Length::from_m(y_m))
    }

    fn pin(&self) -> Pin {
        Pin { at: self.plow.pin, z: self.pin_z }
    }
}
