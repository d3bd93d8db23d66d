//! What turns counts into readings: a straight line, or a table of the mean count of each true value with straight
//! lines between and beyond.

use super::Calibration;
use super::observation::points_of;
use super::series::same_value;
use super::{CalibrationError, CalibrationLine, Fit, Observation};
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
        Self::through_in(points, fit, role.column_unit().symbol)
    }

    /// The same in a unit, which is for the errors.
    pub(super) fn through_in(points: &[(f64, f64)], fit: Fit, unit: &str) -> Result<Self, CalibrationError> {
        Ok(match fit {
            Fit::Line => Self::Line(CalibrationLine::through(points)?),
            Fit::Table => Self::Table(CalibrationTable::through(points, unit)?),
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

/// One true value of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Knot {
    /// Mean count.
    pub count: f64,
    /// True value in the column's unit.
    pub value: f64,
    /// How many steps the mean is of.
    pub steps: usize,
}

/// Readings by straight lines between the knots; beyond the ends the last straight line goes on.
#[derive(Clone, Debug, PartialEq)]
pub struct CalibrationTable {
    /// The two of the lowest counts, and the others in rising order; the values rise or fall all the way.
    first: (Knot, Knot),
    others: Vec<Knot>,
}

impl CalibrationTable {
    /// The table through `(count, true value)` points in any order; `unit` is for the errors.
    ///
    /// # Errors
    /// [`CalibrationError`] if there are fewer than two values or counts, if anything is not finite, or if the
    /// counts turn back.
    pub fn through(points: &[(f64, f64)], unit: &str) -> Result<Self, CalibrationError> {
        let mut knots = knots_of(points);
        if knots.iter().any(|knot| !(knot.count.is_finite() && knot.value.is_finite())) {
            return Err(CalibrationError::NotFinite);
        }
        let (Some(first), Some(last)) = (knots.first(), knots.last()) else {
            return Err(CalibrationError::OneCount);
        };
        if knots.len() < 2 {
            return Err(CalibrationError::OneValue);
        }
        if first.count == last.count {
            return Err(CalibrationError::OneCount);
        }
        let rises = last.count > first.count;
        let turns = knots.windows(2).find(|pair| match pair {
            [low, high] => (high.count > low.count) != rises || high.count == low.count,
            _ => false,
        });
        if let Some([_, knot]) = turns {
            return Err(CalibrationError::TableTurnsBack(format!("{} {unit}", knot.value)));
        }
        if !rises {
            knots.reverse();
        }
        let mut knots = knots.into_iter();
        let (Some(lowest), Some(second)) = (knots.next(), knots.next()) else {
            return Err(CalibrationError::OneValue);
        };
        Ok(Self { first: (lowest, second), others: knots.collect() })
    }

    /// The reading at a raw count.
    #[must_use]
    pub fn reading(&self, count: f64) -> f64 {
        let (low, high) = self.piece(|knot| knot.count < count);
        low.value + slope(low, high) * (count - low.count)
    }

    /// The count at a reading.
    #[must_use]
    pub fn count_at(&self, reading: f64) -> f64 {
        let rises = self.first.1.value > self.first.0.value;
        let (low, high) = self.piece(|knot| (knot.value < reading) == rises && knot.value != reading);
        low.count + (reading - low.value) / slope(low, high)
    }

    /// Column unit per count, there.
    #[must_use]
    pub fn slope_at(&self, count: f64) -> f64 {
        let (low, high) = self.piece(|knot| knot.count < count);
        slope(low, high)
    }

    /// The straight line that begins at the last knot `before` the place sought; the outer ones go on.
    pub(super) fn piece(&self, before: impl Fn(&Knot) -> bool) -> (&Knot, &Knot) {
        let mut piece = (&self.first.0, &self.first.1);
        for knot in &self.others {
            if !before(piece.1) {
                break;
            }
            piece = (piece.1, knot);
        }
        piece
    }
}

fn slope(low: &Knot, high: &Knot) -> f64 {
    (high.value - low.value) / (high.count - low.count)
}

/// The mean count of each true value, in rising order of the values.
pub(super) fn knots_of(points: &[(f64, f64)]) -> Vec<Knot> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut knots: Vec<Knot> = Vec::new();
    for (count, value) in sorted {
        match knots.last_mut() {
            Some(knot) if same_value(knot.value, value) => {
                knot.steps += 1;
                knot.count += (count - knot.count) / knot.steps as f64;
            }
            _ => knots.push(Knot { count, value, steps: 1 }),
        }
    }
    knots
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(points: &[(f64, f64)]) -> CalibrationTable {
        CalibrationTable::through(points, "mm").unwrap()
    }

    #[test]
    fn readings_lie_on_straight_lines_between_the_means_and_go_on_beyond_them() {
        let table = table(&[(100.0, 0.0), (198.0, 10.0), (202.0, 10.0), (400.0, 20.0)]);
        for (count, reading) in [(100.0, 0.0), (150.0, 5.0), (200.0, 10.0), (300.0, 15.0), (400.0, 20.0)] {
            assert_eq!(table.reading(count), reading);
            assert_eq!(table.count_at(reading), count);
        }
        assert_eq!((table.reading(0.0), table.reading(600.0)), (-10.0, 30.0));
        assert_eq!((table.count_at(-10.0), table.count_at(30.0)), (0.0, 600.0));
        assert_eq!((table.slope_at(150.0), table.slope_at(300.0)), (0.1, 0.05));
    }

    /// A sensor that is built in the other way round.
    #[test]
    fn counts_may_fall_as_the_value_rises() {
        let table = table(&[(400.0, 0.0), (200.0, 10.0), (100.0, 20.0)]);
        for (count, reading) in [(500.0, -5.0), (300.0, 5.0), (150.0, 15.0), (50.0, 25.0)] {
            assert_eq!(table.reading(count), reading);
            assert_eq!(table.count_at(reading), count);
        }
    }

    #[test]
    fn counts_that_turn_back_are_refused_with_the_place() {
        let refused = |points| CalibrationTable::through(points, "N").unwrap_err();
        let turned = refused(&[(0.0, 0.0), (200.0, 10.0), (150.0, 20.0), (300.0, 30.0)]);
        assert_eq!(turned, CalibrationError::TableTurnsBack("20 N".to_owned()));
        let twice = refused(&[(0.0, 0.0), (200.0, 10.0), (200.0, 20.0)]);
        assert_eq!(twice, CalibrationError::TableTurnsBack("20 N".to_owned()));
        assert_eq!(refused(&[]), CalibrationError::OneCount);
        assert_eq!(refused(&[(0.0, 1.0), (5.0, 1.0)]), CalibrationError::OneValue);
        assert_eq!(refused(&[(5.0, 1.0), (5.0, 2.0)]), CalibrationError::OneCount);
        assert_eq!(refused(&[(f64::NAN, 1.0), (5.0, 2.0)]), CalibrationError::NotFinite);
    }
}
