//! What the calibrations of the sensors leave open of the means that were read with them: what enters the Monte Carlo.

use super::inputs::MeanForce;
use ingest::calibration::{CalibrationReport, Reference, Source, Uncertainty};
use ingest::plow::{ChannelRole, Plow, Sensor};
use ingest::quantity::Force;
use stats::Estimate;

/// The calibrations that readings were made with.
#[derive(Clone, Debug)]
pub struct Calibrations<'a> {
    plow: &'a Plow,
    /// The sensors whose calibrations they are.
    pub sensors: &'a [Sensor],
    /// What each says; a calibration of which nothing follows has none.
    pub reports: Vec<CalibrationReport>,
}

impl<'a> Calibrations<'a> {
    /// Those of these sensors, on this plow.
    pub fn of(plow: &'a Plow, sensors: &'a [Sensor]) -> Self {
        let report = |sensor: &Sensor| CalibrationReport::of(&sensor.calibration, sensor.measures).ok();
        Self { plow, sensors, reports: sensors.iter().filter_map(report).collect() }
    }

    fn report(&self, role: ChannelRole) -> Option<&CalibrationReport> {
        self.reports.iter().find(|report| report.measures == role)
    }

    fn own(&self, role: ChannelRole, mean: f64) -> Option<Uncertainty> {
        self.report(role).map(|report| report.uncertainty_at(mean))
    }

    /// What the channel's own calibration leaves open at a reading, half of the 95 % interval in the column's unit.
    /// Of a channel without one nothing more is known than the readings say: 0.
    pub fn open_at(&self, role: ChannelRole, reading: f64) -> f64 {
        let own = self.own(role, reading).map(|own| own.expanded);
        own.filter(|half_width| half_width.is_finite()).map_or(0.0, |half_width| half_width)
    }

    /// A mean with that in its interval; `None` where it is not finite.
    pub fn widened(&self, role: ChannelRole, mean: Estimate) -> Option<Estimate> {
        widened(mean, self.open_at(role, mean.value))
    }

    /// The mean pull; with a zero that has moved by `zero_shift_n`, what is true lies at the reading or that much
    /// off it.
    pub fn pull(&self, mean_n: Estimate, zero_shift_n: f64) -> MeanForce {
        self.calibrated(ChannelRole::Pull, MeanForce::pull(Estimate::from_si(mean_n)))
            .perhaps_off_by(Force::from_n(zero_shift_n))
    }

    /// A mean force of this channel as it was measured, with what the calibration leaves open.
    pub fn calibrated(&self, role: ChannelRole, measured: MeanForce) -> MeanForce {
        measured.calibrated(self.own(role, measured.mean.si().value).as_ref())
    }

    /// The load table turns deflection into load, and with it the deflection's uncertainty. Lengths of which
    /// nobody stated how well they are known are covered by what is allowed for the table.
    pub fn tail(&self, mean_n: Estimate, standing_n: f64) -> MeanForce {
        let by_table = MeanForce::tail(Estimate::from_si(mean_n), Force::from_n(standing_n));
        let Some(spring) = self.plow.tail.wheel() else { return by_table };
        let deflection_m = spring.load_table.deflection_m(mean_n.value);
        let Some(report) = self.report(ChannelRole::Tail) else { return by_table };
        let mut own = report.uncertainty_at(deflection_m * 1000.0);
        if report.reference == Reference::NotStated {
            own.contributions.retain(|one| one.source != Source::Reference);
            own = Uncertainty::combine(own.at, own.contributions, own.linearity_shown);
        }
        let half_width_n = spring.load_table.rate_n_per_m(deflection_m) * own.expanded / 1000.0;
        if half_width_n.is_finite() { by_table.widened_by(Force::from_n(half_width_n)) } else { by_table }
    }
}

/// A figure with a further half-width in its interval, about its value; `None` where it is not finite.
pub fn widened(figure: Estimate, half_width: f64) -> Option<Estimate> {
    Estimate::around(figure.value, half_width.hypot((figure.high - figure.low) / 2.0))
}
