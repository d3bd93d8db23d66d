//! What carries a plow in a picture of its side.

use super::content::PointM;

/// What carries one end of a plow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Support {
    /// Where it carries.
    pub contact: PointM,
    /// What it looks like.
    pub look: SupportLook,
}

/// Looks of what carries a plow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum SupportLook {
    /// A wheel on the ground.
    Wheel {
        /// Its diameter, m.
        diameter_m: f64,
    },
    /// Something that slides.
    Sole,
    /// A rolling landside: a small wheel on the furrow bottom, inclined against the furrow wall.
    RollingLandside,
    /// A pin of the tractor's linkage, or where its links meet.
    Pin,
}

/// Diameter that a rolling landside is drawn with, m, which no description has: a sign, not a measure.
const ROLLING_LANDSIDE_M: f64 = 0.4;
/// A wheel inclined by 40° is this much lower, seen from the side, than it is long (cos 40°): a sign, too.
const INCLINED: f64 = 0.766;

impl Support {
    /// Its length along the plow, which for a wheel is its diameter, m; 0 for what is no wheel.
    #[must_use]
    pub fn diameter_m(&self) -> f64 {
        match self.look {
            SupportLook::Wheel { diameter_m } => diameter_m,
            SupportLook::RollingLandside => ROLLING_LANDSIDE_M,
            SupportLook::Sole | SupportLook::Pin => 0.0,
        }
    }

    /// How high it stands over its contact in the side view, m; 0 for what is no wheel.
    #[must_use]
    pub fn height_m(&self) -> f64 {
        match self.look {
            SupportLook::RollingLandside => ROLLING_LANDSIDE_M * INCLINED,
            _ => self.diameter_m(),
        }
    }
}
