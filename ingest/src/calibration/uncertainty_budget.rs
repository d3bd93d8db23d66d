//! The uncertainty of a reading, contribution by contribution (JCGM 100:2008, GUM).

use super::{CalibrationCurve, Figures, Reference};
use crate::student::{Z_975, t_quantile};
use schemars::JsonSchema;
use serde::Serialize;

/// What makes a reading uncertain.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// Where the fitted curve lies.
    Fit,
    /// That the sensor does not follow the curve.
    NonLinearity,
    /// That it reads otherwise on the way up than on the way down.
    Hysteresis,
    /// That it does not read the same twice.
    Repeatability,
    /// That it does not come back to its zero.
    ZeroReturn,
    /// The loads or lengths of the calibration.
    Reference,
}

impl Source {
    /// In a report.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Fit => "fit",
            Self::NonLinearity => "non-linearity",
            Self::Hysteresis => "hysteresis",
            Self::Repeatability => "repeatability",
            Self::ZeroReturn => "zero return",
            Self::Reference => "reference",
        }
    }
}

/// How a contribution was evaluated (GUM 2.3.2, 2.3.3).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub enum Evaluation {
    /// From the scatter of observations.
    A,
    /// From anything else: bounds, statements.
    B,
}

/// The law that is taken for a contribution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Distribution {
    /// Student's, with the degrees of freedom of the scatter.
    Student,
    /// Normal; stated as half of a 95 % interval.
    Normal,
    /// Rectangular: only its bounds are known (GUM 4.3.7).
    Rectangular,
}

/// More effective degrees of freedom than this have no end: Student's law is the normal one by then.
const FREEDOM_MAX: f64 = 1e6;

/// One contribution.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(extend("unit" = "that of the channel's column"))]
pub struct Contribution {
    /// What it is.
    pub source: Source,
    /// Type A or B.
    pub evaluation: Evaluation,
    /// Its law.
    pub distribution: Distribution,
    /// Standard uncertainty in the column's unit.
    pub standard: f64,
    /// Degrees of freedom; null where there is no end to them (type B).
    pub freedom: Option<usize>,
}

/// The uncertainty of a reading by a calibration, in the column's unit.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(extend("unit" = "that of the channel's column"))]
pub struct Uncertainty {
    /// The reading.
    pub at: f64,
    /// Contributions that the calibration shows, and the reference.
    pub contributions: Vec<Contribution>,
    /// Root of the sum of their squares (GUM 5.1.2).
    pub standard: f64,
    /// Effective degrees of freedom by Welch and Satterthwaite (GUM G.4.1); null where there is no end to them.
    pub freedom: Option<f64>,
    /// Expanded over standard uncertainty: Student's t for 95 %.
    pub coverage: f64,
    /// Half of the 95 % interval.
    pub expanded: f64,
    /// Whether the calibration shows how straight (or how well tabled) the sensor is at this reading: it has
    /// three true values or more, and the reading lies between them. If not, the true uncertainty may be
    /// larger by any amount.
    pub linearity_shown: bool,
}

/// What the budget is made from.
pub(super) struct Budget<'a> {
    pub curve: &'a CalibrationCurve,
    pub figures: &'a Figures,
    pub reference: Reference,
}

impl Budget<'_> {
    /// The uncertainty at a reading.
    pub(super) fn at(&self, reading: f64) -> Uncertainty {
        let Figures { hysteresis, repeat_sd, repeat_freedom, zero_return, .. } = *self.figures;
        let bound = |source, half_width: Option<f64>| {
            let (evaluation, distribution) = (Evaluation::B, Distribution::Rectangular);
            let standard = half_width? / 3.0_f64.sqrt();
            Some(Contribution { source, evaluation, distribution, standard, freedom: None })
        };
        let scatter = |source, found: Option<(f64, usize)>| {
            let (evaluation, distribution) = (Evaluation::A, Distribution::Student);
            let (standard, freedom) = found?;
            Some(Contribution { source, evaluation, distribution, standard, freedom: Some(freedom) })
        };
        let bend = match self.curve {
            CalibrationCurve::Line(_) => self.figures.non_linearity,
            CalibrationCurve::Table(_) => self.figures.interpolation,
        };
        let reference = Contribution {
            source: Source::Reference,
            evaluation: Evaluation::B,
            distribution: Distribution::Normal,
            standard: self.reference.half_width(reading) / Z_975,
            freedom: None,
        };
        let contributions: Vec<Contribution> = [
            scatter(Source::Fit, self.fit(reading)),
            bound(Source::NonLinearity, bend.map(|bend| bend.size)),
            // The curve goes half way between up and down.
            bound(Source::Hysteresis, hysteresis.map(|found| found.size / 2.0)),
            // A run is driven once: its mean has what repeats scatter by, not what their mean does.
            scatter(Source::Repeatability, repeat_sd.map(|sd| (sd, repeat_freedom))),
            bound(Source::ZeroReturn, zero_return.map(|found| found.size)),
            Some(reference),
        ]
        .into_iter()
        .flatten()
        .collect();
        let linearity_shown = self.figures.values > 2 && self.figures.range.holds(reading);
        Uncertainty::combine(reading, contributions, linearity_shown)
    }

    /// Standard uncertainty of the curve itself and its degrees of freedom.
    fn fit(&self, reading: f64) -> Option<(f64, usize)> {
        let count = self.curve.count_at(reading);
        match self.curve {
            CalibrationCurve::Line(line) => Some((line.standard_uncertainty(count)?, line.points() - 2)),
            CalibrationCurve::Table(table) => {
                let sd = self.figures.repeat_sd?;
                let (low, high) = table.piece(|knot| knot.count < count);
                let way = (count - low.count) / (high.count - low.count);
                let share = (1.0 - way).powi(2) / low.steps as f64 + way.powi(2) / high.steps as f64;
                Some((sd * share.sqrt(), self.figures.repeat_freedom))
            }
        }
    }
}

impl Uncertainty {
    /// Independent contributions to the uncertainty of a reading, together.
    #[must_use]
    pub fn combine(at: f64, contributions: Vec<Contribution>, linearity_shown: bool) -> Self {
        let standard = contributions.iter().map(|one| one.standard.powi(2)).sum::<f64>().sqrt();
        // Shares of the whole, so that small numbers do not vanish in their fourth power.
        let scattered: f64 = contributions
            .iter()
            .filter_map(|one| {
                Some((one.standard / standard).powi(4) / one.freedom.filter(|f| *f > 0)? as f64)
            })
            .sum();
        let freedom = (scattered > 1.0 / FREEDOM_MAX).then(|| 1.0 / scattered);
        let coverage = freedom.map_or(Z_975, |freedom| t_quantile(0.975, freedom));
        let expanded = coverage * standard;
        Self { at, contributions, standard, freedom, coverage, expanded, linearity_shown }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// JCGM 100:2008 (GUM) H.1, the end gauge: components in nm with their degrees of freedom give u = 32 nm with
    /// 16 of them (16.752 before rounding down).
    #[test]
    fn gum_end_gauge_effective_degrees_of_freedom() {
        let parts = [(25.0, 18), (16.599, 2), (6.7, 8), (5.8, 24), (3.9, 5), (2.886_79, 50)];
        let contributions = parts.map(|(standard, freedom)| Contribution {
            source: Source::Fit,
            evaluation: Evaluation::A,
            distribution: Distribution::Student,
            standard,
            freedom: Some(freedom),
        });
        let found = Uncertainty::combine(0.0, contributions.to_vec(), true);
        assert!((found.standard - 31.664).abs() < 0.001, "{found:?}");
        assert!((found.freedom.unwrap() - 16.752).abs() < 0.01, "{found:?}");
    }

    #[test]
    fn without_scatter_the_factor_is_the_normal_one_and_nothing_gives_nothing() {
        let bound = Contribution {
            source: Source::Reference,
            evaluation: Evaluation::B,
            distribution: Distribution::Normal,
            standard: 2.0,
            freedom: None,
        };
        let found = Uncertainty::combine(0.0, vec![bound], true);
        assert_eq!((found.freedom, found.expanded), (None, 2.0 * Z_975));
        assert_eq!(Uncertainty::combine(0.0, Vec::new(), true).expanded, 0.0);
    }
}
