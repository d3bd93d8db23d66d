//! A mean force of a run, with what its readings and its calibration leave open.

use super::distribution::Distribution;
use ingest::calibration::Uncertainty;
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
    /// Mean over the working part with its 95 % interval for the process, in N.
    pub mean_n: Estimate,
    /// Half of the 95 % interval of the calibration at that mean, in N.
    pub calibration_half_width_n: f64,
}

impl MeanForce {
    /// A mean pull whose calibration is known to 2 %, until [`Self::calibrated`] says more.
    #[must_use]
    pub fn pull(mean_n: Estimate) -> Self {
        Self { mean_n, calibration_half_width_n: PULL_CALIBRATION_SHARE * mean_n.value.abs() }
    }

    /// A mean front load whose calibration is known to 3 %, until [`Self::calibrated`] says more.
    #[must_use]
    pub fn front(mean_n: Estimate) -> Self {
        Self { mean_n, calibration_half_width_n: FRONT_CALIBRATION_SHARE * mean_n.value.abs() }
    }

    /// A mean tail load by a load cell: as well known as a front load.
    #[must_use]
    pub fn tail_cell(mean_n: Estimate) -> Self {
        Self::front(mean_n)
    }

    /// A mean force along a link, known to 2 %, and to 1 % of the pull for its zero, until [`Self::calibrated`] says
    /// more (by choice).
    #[must_use]
    pub fn link(mean_n: Estimate, pull_n: f64) -> Self {
        let calibration_half_width_n =
            (LINK_CALIBRATION_SHARE * mean_n.value).hypot(LINK_ZERO_SHARE * pull_n);
        Self { mean_n, calibration_half_width_n }
    }

    /// A mean tail load by the deflection table: 5 % of it, and 3 % of the standing plow's for the zero.
    #[must_use]
    pub fn tail(mean_n: Estimate, standing_n: f64) -> Self {
        let table_n = TAIL_TABLE_SHARE * mean_n.value.abs();
        let zero_n = TAIL_ZERO_SHARE * standing_n.abs();
        Self { mean_n, calibration_half_width_n: table_n.hypot(zero_n) }
    }

    /// The same with what the channel's own calibration shows at this mean. Where it cannot show how straight
    /// the sensor is there (two true values, or a mean beyond them), the default stands unless the
    /// calibration shows itself to be worse.
    #[must_use]
    pub fn calibrated(self, own: Option<&Uncertainty>) -> Self {
        let Some(own) = own.filter(|own| own.expanded.is_finite()) else { return self };
        let calibration_half_width_n = match own.linearity_shown {
            true => own.expanded,
            false => own.expanded.max(self.calibration_half_width_n),
        };
        Self { calibration_half_width_n, ..self }
    }

    /// The same with a further half of a 95 % interval, independent of what is there.
    #[must_use]
    pub fn widened_by(self, half_width_n: f64) -> Self {
        let calibration_half_width_n = self.calibration_half_width_n.hypot(half_width_n);
        Self { calibration_half_width_n, ..self }
    }

    /// The same if what is true may as well lie `shift_n` off the mean: the interval then reaches as much farther.
    #[must_use]
    pub fn perhaps_off_by(self, shift_n: f64) -> Self {
        let calibration_half_width_n = self.calibration_half_width_n + shift_n.abs();
        Self { calibration_half_width_n, ..self }
    }

    pub(super) fn distribution(&self) -> Distribution {
        let sd = self.readings_sd_n().hypot(self.calibration_sd_n());
        Distribution::Normal { mean: self.mean_n.value, sd }
    }

    /// Standard uncertainty that the readings of this run leave.
    #[must_use]
    pub fn readings_sd_n(&self) -> f64 {
        (self.mean_n.high - self.mean_n.low) / 2.0 / Z_975
    }

    /// Standard uncertainty that the calibration leaves, the same error in all runs that it was used for.
    #[must_use]
    pub fn calibration_sd_n(&self) -> f64 {
        self.calibration_half_width_n / Z_975
    }

    pub(super) fn is_finite(&self) -> bool {
        self.mean_n.value.is_finite()
            && self.mean_n.low.is_finite()
            && self.mean_n.high.is_finite()
            && self.calibration_half_width_n.is_finite()
    }
}
