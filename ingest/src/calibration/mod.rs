//! Raw counts to readings: what a calibration gives, and how well it is known.
//!
//! Known loads or lengths are put on a sensor step by step, in any order that rises and falls
//! ([`Observation`]). A straight line or a table through them ([`CalibrationCurve`]) turns counts into readings, and
//! [`CalibrationReport`] says what the steps show of it: slope, non-linearity, hysteresis, repeatability, zero
//! return, and the uncertainty of a reading, contribution by contribution (JCGM 100:2008).

mod curve;
mod error;
mod figures;
mod line;
mod observation;
mod own_sensor;
mod report;
mod report_text;
mod sensor;
mod series;
mod uncertainty_budget;
mod unrest;

pub use curve::{CalibrationCurve, CalibrationTable};
pub use error::{CalibrationError, CalibrationFault};
pub use figures::{Figures, OfScale};
pub use line::CalibrationLine;
pub use observation::{Observation, Reference};
pub use own_sensor::OwnSensor;
pub use report::{
    CalibrationReport, NON_LINEARITY_PERCENT_MAX, UNCERTAINTY_PERCENT_MAX, WithInterval, report,
};
pub use sensor::{Calibration, CalibrationPoint, Fit, Sensor};
pub use series::{Direction, Step, ValueRange};
pub use uncertainty_budget::{Contribution, Distribution, Evaluation, Source, Uncertainty};
pub use unrest::Unrest;

/// What an operator does so that a run can be set against the calibration's zero.
pub const ZERO_HINT: &str = concat!(
    "start the recording standing still, plow lifted, drawbar slack, ",
    crate::nobody_between!(),
    ", for 5 s"
);
