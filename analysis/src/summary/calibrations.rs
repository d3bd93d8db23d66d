//! The calibrations that the readings of a run were made with, and what they leave open of its mean forces:
//! what enters the Monte Carlo.

use ingest::calibration::{CalibrationReport, Reference, Source, Uncertainty};
use ingest::plow::{ChannelRole, Plow, Sensor};
use ingest::quantity::Force;
use ingest::run_toml::{RunDescription, RunState};
use statics::inputs::MeanForce;
use stats::Estimate;

/// The calibrations of a run; none of an imported one, whose readings were not made with those of its
/// description.
pub(super) struct Calibrations<'a> {
    plow: &'a Plow,
    sensors: &'a [Sensor],
    reports: Vec<CalibrationReport>,
}

impl<'a> Calibrations<'a> {
    pub fn of(description: &'a RunDescription) -> Self {
        let sensors: &[Sensor] = match description.run.state {
            RunState::Imported => &[],
            _ => &description.plow.sensors,
        };
        let report = |sensor: &Sensor| CalibrationReport::of(&sensor.calibration, sensor.measures).ok();
        Self { plow: &description.plow, sensors, reports: sensors.iter().filter_map(report).collect() }
    }

    pub fn sensors(&self) -> &[Sensor] {
        self.sensors
    }

    pub fn reports(&self) -> &[CalibrationReport] {
        &self.reports
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

    /// A mean with that in its interval.
    pub fn widened(&self, role: ChannelRole, mean: Estimate) -> Option<Estimate> {
        let own = self.open_at(role, mean.value);
        Estimate::around(mean.value, own.hypot((mean.high - mean.low) / 2.0))
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
