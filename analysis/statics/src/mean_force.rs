//! A mean force of a run, with what its readings and its calibration leave open.

use super::distribution::Distribution;
use ingest::calibration::Uncertainty;
use ingest::quantity::Force;
use stats::Estimate;
use stats::student::Z_975;

const PULL_CALIBRATION_SHARE: f64 = 0.02;
const FRONT_CALIBRATION_SHARE: f64 = 0.03;
const LINK_CALIBRATION_SHARE: f64 = 0.02;
/// Of the pull: the zero of a cell in a link, which pulls and pushes.
const LINK_ZERO_SHARE: f64 = 0.01;
const TAIL_TABLE_SHARE: f64 = 0.05;
/// Of the standing plow's tail load: the zero of a tail-wheel spring.
const TAIL_ZERO_SHARE: f64 = 0.03;

/// A mean force of a run: its interval from the readings, and what the calibration leaves open.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeanForce {
    /// Mean over the working part with its 95 % interval for the process.
    pub mean: Estimate<Force>,
    /// Half of the 95 % interval of the calibration at that mean.
    pub calibration_half_width: Force,
}

impl MeanForce {
    fn known_to(mean: Estimate<Force>, half_width_n: f64) -> Self {
        Self { mean, calibration_half_width: Force::from_n(half_width_n) }
    }

    /// A mean pull whose calibration is known to 2 %, until [`Self::calibrated`] says more.
    pub fn pull(mean: Estimate<Force>) -> Self {
        Self::known_to(mean, PULL_CALIBRATION_SHARE * mean.value.n().abs())
    }

    /// A mean front load whose calibration is known to 3 %, until [`Self::calibrated`] says more.
    pub fn front(mean: Estimate<Force>) -> Self {
        Self::known_to(mean, FRONT_CALIBRATION_SHARE * mean.value.n().abs())
    }

    /// A mean tail load by a load cell: as well known as a front load.
    pub fn tail_cell(mean: Estimate<Force>) -> Self {
        Self::front(mean)
    }

    /// A mean force along a link, known to 2 %, and to 1 % of the pull for its zero, until [`Self::calibrated`] says
    /// more (by choice).
    pub fn link(mean: Estimate<Force>, pull: Force) -> Self {
        Self::known_to(mean, (LINK_CALIBRATION_SHARE * mean.value.n()).hypot(LINK_ZERO_SHARE * pull.n()))
    }

    /// A mean tail load by the deflection table: 5 % of it, and 3 % of the standing plow's for the zero.
    pub fn tail(mean: Estimate<Force>, standing: Force) -> Self {
        let table_n = TAIL_TABLE_SHARE * mean.value.n().abs();
        Self::known_to(mean, table_n.hypot(TAIL_ZERO_SHARE * standing.n().abs()))
    }

    /// The same with what the channel's own calibration, in N, shows at this mean. Where it cannot show how straight
    /// the sensor is there (two true values, or a mean beyond them), the default stands unless the
    /// calibration shows itself to be worse.
    #[must_use]
    pub fn calibrated(self, own: Option<&Uncertainty>) -> Self {
        let Some(own) = own.filter(|own| own.expanded.is_finite()) else { return self };
        let half_width_n = match own.linearity_shown {
            true => own.expanded,
            false => own.expanded.max(self.calibration_half_width.n()),
        };
        Self::known_to(self.mean, half_width_n)
    }

    /// The same with a further half of a 95 % interval, independent of what is there.
    #[must_use]
    pub fn widened_by(self, half_width: Force) -> Self {
        Self::known_to(self.mean, self.calibration_half_width.n().hypot(half_width.n()))
    }

    /// The same if what is true may as well lie `shift` off the mean: the interval then reaches as much farther.
    #[must_use]
    pub fn perhaps_off_by(self, shift: Force) -> Self {
        Self::known_to(self.mean, self.calibration_half_width.n() + shift.n().abs())
    }

    pub(super) fn distribution(&self) -> Distribution {
        let sd = self.readings_sd().n().hypot(self.calibration_sd().n());
        Distribution::Normal { mean: self.mean.value.n(), sd }
    }

    /// Standard uncertainty that the readings of this run leave.
    pub fn readings_sd(&self) -> Force {
        Force::from_n(self.mean.standard_uncertainty())
    }

    /// Standard uncertainty that the calibration leaves, the same error in all runs that it was used for.
    pub fn calibration_sd(&self) -> Force {
        Force::from_n(self.calibration_half_width.n() / Z_975)
    }

    pub(super) fn is_finite(&self) -> bool {
        let Estimate { value, low, high } = self.mean;
        [value, low, high, self.calibration_half_width].into_iter().all(|force| force.n().is_finite())
    }
}
