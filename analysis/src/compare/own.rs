//! The user's own columns of both settings side by side. Nothing is tested on them.

use super::{OwnMean, PassFigures};
use schemars::JsonSchema;
use serde::Serialize;

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
        let mean =
            |means: &[f64]| (!means.is_empty()).then(|| means.iter().sum::<f64>() / means.len() as f64);
        let (of_a, of_b) = (means(a), means(b));
        OwnComparison {
            column: own.column.clone(),
            name: own.name.clone(),
            unit: own.unit.clone(),
            mean_a: mean(&of_a),
            mean_b: mean(&of_b),
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
        let without = compare(&[run("a", 1, &[])], &[run("b", 2, &[])]).unwrap();
        assert!(serde_json::to_value(&without).unwrap().get("own_columns").is_none());
    }
}
