//! What turns counts into readings: a straight line or a table.

use super::Calibration;
use super::observation::points_of;
use super::{CalibrationError, CalibrationLine, CalibrationTable, Fit, Observation};
use crate::channel_role::ChannelRole;

/// Readings by count, in the column's unit.
#[derive(Clone, Debug, PartialEq)]
pub enum CalibrationCurve {
    /// A straight line.
    Line(CalibrationLine),
    /// A table.
    Table(CalibrationTable),
}

impl CalibrationCurve {
    /// The curve of a calibration, in the unit of the role's column.
    ///
    /// # Errors
    /// [`CalibrationError`] if a value has no usable unit or the points give no curve.
    pub fn of(calibration: &Calibration, role: ChannelRole) -> Result<Self, CalibrationError> {
        Self::through(&points_of(&Observation::of(calibration), role)?, calibration.fit, role)
    }

    /// The curve through `(count, true value in the column's unit)` points; `role` is for the errors.
    ///
    /// # Errors
    /// [`CalibrationError`] if the points give no curve.
    pub fn through(points: &[(f64, f64)], fit: Fit, role: ChannelRole) -> Result<Self, CalibrationError> {
        Ok(match fit {
            Fit::Line => Self::Line(CalibrationLine::through(points)?),
            Fit::Table => Self::Table(CalibrationTable::through(points, role.column_unit().symbol)?),
        })
    }

    /// The reading at a raw count, in the column's unit.
    #[must_use]
    pub fn reading(&self, count: f64) -> f64 {
        match self {
            Self::Line(line) => line.reading(count),
            Self::Table(table) => table.reading(count),
        }
    }

    /// The count at a reading, which need not be whole.
    #[must_use]
    pub fn count_at(&self, reading: f64) -> f64 {
        match self {
            Self::Line(line) => line.count_at(reading),
            Self::Table(table) => table.count_at(reading),
        }
    }

    /// Column unit per count, there.
    #[must_use]
    pub fn slope_at(&self, count: f64) -> f64 {
        match self {
            Self::Line(line) => line.slope(),
            Self::Table(table) => table.slope_at(count),
        }
    }
}
