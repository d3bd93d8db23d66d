//! The user's own columns of both settings side by side. Nothing is tested on them.

use super::{OwnMean, PassFigures};
use schemars::JsonSchema;
use serde::Serialize;
use stats::two_samples::{RUNS_MIN, welch_t};
use stats::{Estimate, Moments};

/// One column.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct OwnComparison {
    /// Its column in the tables.
    pub column: String,
    /// Its name, by the user.
    pub name: String,
    /// Its unit, by the user: that of both means. Runs with another unit are told apart.
    pub unit: String,
    /// Mean of the means of the runs of A, in that unit; null without any.
    pub mean_a: Option<f64>,
    /// The same of B.
    pub mean_b: Option<f64>,
    /// Standard deviation of those means from run to run (divisor n − 1), in that unit; null with fewer than two runs.
    pub sd_a: Option<f64>,
    /// The same of B.
    pub sd_b: Option<f64>,
    /// Mean of A less that of B, in that unit, by Welch's interval, which blocks do not narrow; null with fewer than three
    /// runs of either.
    pub difference: Option<Estimate>,
    /// Runs of A that have it.
    pub runs_a: usize,
    /// Runs of B that have it.
    pub runs_b: usize,
}

/// Every column that a run has, in the order in which they come.
pub(super) fn side_by_side(a: &[PassFigures], b: &[PassFigures]) -> Vec<OwnComparison> {
    let mut found: Vec<&OwnMean> = Vec::new();
    for own in a.iter().chain(b).flat_map(|run| &run.own) {
        if !found.iter().any(|one| is_same(one, own)) {
            found.push(own);
        }
    }
    let compared = |own: &OwnMean| {
        let means = |runs: &[PassFigures]| -> Vec<f64> {
            let of_run = |run: &PassFigures| run.own.iter().find(|one| is_same(one, own)).map(|one| one.mean);
            runs.iter().filter_map(of_run).collect()
        };
        let (of_a, of_b) = (means(a), means(b));
        let moments = (Moments::of(&of_a), Moments::of(&of_b));
        let mean = |of: &Moments| (of.count > 0).then_some(of.mean);
        let enough = of_a.len().min(of_b.len()) >= RUNS_MIN;
        let difference = welch_t(moments.0, moments.1).ok().filter(|_| enough).map(|test| test.difference);
        OwnComparison {
            column: own.column.clone(),
            name: own.name.clone(),
            unit: own.unit.clone(),
            mean_a: mean(&moments.0),
            mean_b: mean(&moments.1),
            sd_a: moments.0.sd(),
            sd_b: moments.1.sd(),
            difference,
            runs_a: of_a.len(),
            runs_b: of_b.len(),
        }
    };
    found.into_iter().map(compared).collect()
}

/// Means in two units are not means of one thing.
fn is_same(one: &OwnMean, other: &OwnMean) -> bool {
    (&one.column, &one.unit) == (&other.column, &other.unit)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compare::compare;
    use crate::compare::tests::pass;

    fn run(setting: &str, hour: u32, own: &[(&str, &str, f64)]) -> PassFigures {
        let mean = |(name, unit, mean): &(&str, &str, f64)| OwnMean {
            column: format!("own_{name}"),
            name: (*name).to_owned(),
            unit: (*unit).to_owned(),
            mean: *mean,
        };
        PassFigures { own: own.iter().map(mean).collect(), ..pass(setting, hour, &[]) }
    }

    #[test]
    fn means_stand_side_by_side_and_units_are_not_mixed() {
        let a = [run("a", 1, &[("rpm", "1/min", 1500.0)]), run("a", 3, &[("rpm", "1/min", 1520.0)])];
        let b = [
            run("b", 2, &[("rpm", "1/min", 1400.0), ("angle", "deg", 3.0)]),
            run("b", 4, &[("rpm", "1/s", 25.0)]),
        ];
        let told = compare(&a, &b).unwrap().own_columns;
        let told: Vec<_> = told
            .iter()
            .map(|own| (own.column.as_str(), own.unit.as_str(), own.mean_a, own.mean_b, own.runs_b))
            .collect();
        assert_eq!(
            told,
            [
                ("own_rpm", "1/min", Some(1510.0), Some(1400.0), 1),
                ("own_angle", "deg", None, Some(3.0), 1),
                ("own_rpm", "1/s", None, Some(25.0), 1),
            ]
        );
        assert!(compare(&a, &b).unwrap().own_columns.iter().all(|own| own.difference.is_none()), "too few");
        let rpm = |setting: &str, first: u32, means: [f64; 3]| {
            let one = |(hour, mean): (u32, f64)| run(setting, hour, &[("rpm", "1/min", mean)]);
            (first..).step_by(2).zip(means).map(one).collect::<Vec<_>>()
        };
        let three =
            compare(&rpm("a", 1, [1500.0, 1510.0, 1520.0]), &rpm("b", 2, [1400.0, 1410.0, 1390.0])).unwrap();
        let [own] = &three.own_columns[..] else { panic!("{:?}", three.own_columns) };
        assert_eq!((own.sd_a, own.sd_b), (Some(10.0), Some(10.0)));
        // 110 and 2.776 times 10 √(2/3).
        let difference = own.difference.unwrap();
        assert!(
            (difference.value - 110.0).abs() < 1e-9 && (difference.high - 132.67).abs() < 0.01,
            "{difference:?}"
        );
        let without = compare(&[run("a", 1, &[])], &[run("b", 2, &[])]).unwrap();
        assert!(serde_json::to_value(&without).unwrap().get("own_columns").is_none());
    }
}
