//! The mean forces of a run with what their calibrations leave open: what enters the Monte Carlo.

use crate::statics::inputs::MeanForce;
use crate::stats::Estimate;
use ingest::calibration::{CalibrationReport, Uncertainty};
use ingest::plow::{ChannelRole, Plow};
use ingest::run_toml::{RunDescription, RunState};

/// The calibrations that the readings of a run were made with.
pub(super) struct MeanForces<'a> {
    plow: &'a Plow,
    /// None of an imported run: its readings were not made with the calibrations of the description.
    reports: Vec<CalibrationReport>,
}

impl<'a> MeanForces<'a> {
    pub fn of(description: &'a RunDescription) -> Self {
        let reports = match description.run.state {
            RunState::Imported => Vec::new(),
            _ => {
                let sensors = description.plow.sensors.iter();
                sensors
                    .filter_map(|sensor| CalibrationReport::of(&sensor.calibration, sensor.measures).ok())
                    .collect()
            }
        };
        Self { plow: &description.plow, reports }
    }

    pub fn report(&self, role: ChannelRole) -> Option<&CalibrationReport> {
        self.reports.iter().find(|report| report.measures == role)
    }

    fn own(&self, role: ChannelRole, mean: f64) -> Option<Uncertainty> {
        self.report(role).map(|report| report.uncertainty_at(mean))
    }

    pub fn pull(&self, mean_n: Estimate) -> MeanForce {
        MeanForce::pull(mean_n).calibrated(self.own(ChannelRole::Pull, mean_n.value).as_ref())
    }

    pub fn front(&self, mean_n: Estimate) -> MeanForce {
        MeanForce::front(mean_n).calibrated(self.own(ChannelRole::FrontLoad, mean_n.value).as_ref())
    }

    /// The load table turns deflection into load, and with it the deflection's uncertainty.
    pub fn tail(&self, mean_n: Estimate) -> MeanForce {
        let by_table = MeanForce::tail(mean_n, self.plow);
        let spring = &self.plow.tail_wheel;
        let deflection_m = spring.deflection(mean_n.value);
        match self.own(ChannelRole::Tail, deflection_m * 1000.0).filter(|own| own.expanded.is_finite()) {
            Some(own) => by_table.widened_by(spring.rate_n_per_m(deflection_m) * own.expanded / 1000.0),
            None => by_table,
        }
    }
}
