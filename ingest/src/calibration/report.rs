//! Everything that a calibration says.

use super::figures::figures_of;
use super::observation::points_of;
use super::series::steps_of;
use super::uncertainty_budget::Budget;
use super::unrest::not_steady;
use super::{Calibration, CalibrationPoint, Sensor};
use super::{
    CalibrationCurve, CalibrationError, CalibrationLine, Figures, Fit, Observation, OfScale, Reference, Step,
    Uncertainty,
};
use crate::channel_role::ChannelRole;
use crate::student::t_quantile;
use schemars::JsonSchema;
use serde::Serialize;

/// A figure with the ends of its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(extend("unit" = "that of the key"))]
pub struct WithInterval {
    /// The figure.
    pub value: f64,
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A calibration, with what it shows. Values are in the column's unit.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CalibrationReport {
    /// What the channel measures.
    pub measures: ChannelRole,
    /// Unit of the column.
    pub unit: &'static str,
    /// Line or table.
    pub fit: Fit,
    /// The steps as they were taken.
    pub taken: Vec<Observation>,
    /// Slope of the best-fit line, column unit per count.
    #[serde(rename = "slope_unit_per_count")]
    pub slope: f64,
    /// The same with its interval; null with two steps, which cannot show it.
    #[serde(rename = "slope_interval_unit_per_count")]
    pub slope_interval: Option<WithInterval>,
    /// Count at which the reading is 0.
    pub zero_count: f64,
    /// SD of the steps about the best-fit line (divisor: steps − 2); null with two steps.
    pub residual_sd: Option<f64>,
    /// Non-linearity, hysteresis and the others.
    pub figures: Figures,
    /// How well the loads or lengths are known.
    pub reference: Reference,
    /// The same as it was written.
    pub reference_text: Option<String>,
    /// Uncertainty of a reading of 0.
    pub uncertainty_at_zero: Uncertainty,
    /// Uncertainty of a reading of the highest true value (the lowest, if that lies farther from 0).
    pub uncertainty_at_full_scale: Uncertainty,
    /// The steps that were not steady, numbered from 1: what the load or length was then is not known, and neither the
    /// figures nor the uncertainties reflect it.
    pub not_steady: Vec<usize>,
    /// What gives readings.
    #[serde(skip)]
    pub curve: CalibrationCurve,
    /// The steps with their directions.
    #[serde(skip)]
    pub steps: Vec<Step>,
}

/// A straight line that its own steps leave by more than this much of full scale is refused by `calibrate --update`:
/// by choice. Load cells and displacement sensors that are sound stay under 1 % (from memory); a wrong unit, a step
/// typed twice or a chain that hung on something is far above.
pub const NON_LINEARITY_PERCENT_MAX: f64 = 5.0;

/// The same for the ± of a reading at full scale, by choice: with a pull that is known to a tenth the verdict still
/// means something, with a fifth hardly.
pub const UNCERTAINTY_PERCENT_MAX: f64 = 15.0;

/// The report of a calibration: `taken` in the order taken, `reference` as in [`Calibration::reference`].
///
/// ```
/// use ingest::calibration::{Fit, Observation, report};
/// use ingest::plow::ChannelRole;
///
/// let steps = [(1000.0, "0 N"), (41_000.0, "100 N"), (81_010.0, "200 N"), (41_004.0, "100 N"), (1002.0, "0 N")];
/// let taken = steps.map(|(count, load)| Observation::pair(count, load));
/// let report = report(ChannelRole::Pull, &taken, Fit::Line, None)?;
/// assert!((report.curve.reading(21_000.0) - 50.0).abs() < 0.1);
/// assert!(report.absurdities().is_empty());
/// # Ok::<(), ingest::calibration::CalibrationError>(())
/// ```
///
/// # Errors
/// [`CalibrationError`] if a value has no usable unit, the steps give no curve, or the reference makes no sense.
pub fn report(
    role: ChannelRole,
    taken: &[Observation],
    fit: Fit,
    reference: Option<&str>,
) -> Result<CalibrationReport, CalibrationError> {
    let points = points_of(taken, role)?;
    let curve = CalibrationCurve::through(&points, fit, role)?;
    let line = CalibrationLine::through(&points)?;
    let steps = steps_of(&points);
    let figures = figures_of(&points, &steps, &line, &curve);
    let reference_text = reference.map(str::to_owned);
    let reference = Reference::parse(reference, role)?;
    let budget = Budget { curve: &curve, figures: &figures, reference };
    let range = figures.range;
    let end = if range.low.abs() > range.high.abs() { range.low } else { range.high };
    let (uncertainty_at_zero, uncertainty_at_full_scale) = (budget.at(0.0), budget.at(end));
    Ok(CalibrationReport {
        measures: role,
        unit: role.column_unit().symbol,
        fit,
        taken: taken.to_vec(),
        slope: line.slope(),
        slope_interval: slope_interval(&line),
        zero_count: curve.count_at(0.0),
        residual_sd: line.residual_sd(),
        figures,
        reference,
        reference_text,
        uncertainty_at_zero,
        uncertainty_at_full_scale,
        not_steady: not_steady(taken).into_iter().map(|(number, _)| number + 1).collect(),
        curve,
        steps,
    })
}

fn slope_interval(line: &CalibrationLine) -> Option<WithInterval> {
    let half = t_quantile(0.975, line.points().checked_sub(2)? as f64) * line.slope_uncertainty()?;
    Some(WithInterval { value: line.slope(), low: line.slope() - half, high: line.slope() + half })
}

impl CalibrationReport {
    /// The report of a calibration in a description.
    pub fn of(calibration: &Calibration, role: ChannelRole) -> Result<Self, CalibrationError> {
        report(role, &Observation::of(calibration), calibration.fit, calibration.reference.as_deref())
    }

    /// What makes this calibration too bad to be used without a second look, in a few words each; empty if nothing
    /// does. A table follows its steps, so that only its ± counts.
    #[must_use]
    pub fn absurdities(&self) -> Vec<String> {
        let mut found = Vec::new();
        let beyond = |percent: f64, most: f64| percent.is_nan() || percent > most;
        let non_linearity = self.figures.non_linearity.filter(|_| self.fit.is_line());
        if let Some(OfScale { percent, .. }) =
            non_linearity.filter(|of| beyond(of.percent, NON_LINEARITY_PERCENT_MAX))
        {
            found.push(format!(
                "a non-linearity of {percent:.1} % of full scale, where {NON_LINEARITY_PERCENT_MAX:.0} % is the most"
            ));
        }
        let percent = 100.0 * self.uncertainty_at_full_scale.expanded / self.figures.full_scale;
        if beyond(percent, UNCERTAINTY_PERCENT_MAX) {
            found.push(format!(
                "an uncertainty of {percent:.1} % of full scale, where {UNCERTAINTY_PERCENT_MAX:.0} % is the most"
            ));
        }
        found
    }

    /// The uncertainty of a reading, in the column's unit.
    #[must_use]
    pub fn uncertainty_at(&self, reading: f64) -> Uncertainty {
        Budget { curve: &self.curve, figures: &self.figures, reference: self.reference }.at(reading)
    }

    /// The sensor with this calibration, as a description has it; counts are rounded to a thousandth.
    #[must_use]
    pub fn to_sensor(&self, channel: &str, date: &str, count_limits: Option<(i32, i32)>) -> Sensor {
        let rounded = |count: f64| (count * 1000.0).round() / 1000.0;
        let point = |step: &Observation| CalibrationPoint(rounded(step.count_mean), step.true_value.clone());
        Sensor {
            channel: channel.to_owned(),
            measures: self.measures,
            calibration: Calibration {
                date: date.to_owned(),
                fit: self.fit,
                reference: self.reference_text.clone(),
                points: self.taken.iter().map(point).collect(),
            },
            count_limits,
        }
    }
}
