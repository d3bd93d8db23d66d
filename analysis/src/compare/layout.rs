//! How the passes were laid out in the field, seen from the order in which they were driven.

use super::figures::PassFigures;
use serde::Serialize;

/// How the passes of two settings lie beside each other.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Layout {
    /// Each two consecutive passes hold one of each setting: the soil that they share cancels.
    Blocks,
    /// Anything else, with enough passes of each to see the field's own variation.
    Independent,
    /// Fewer than three passes of a setting: the field's own variation cannot be seen.
    TooFew,
}

/// Passes of each setting needed to see the variation between passes.
pub const RUNS_MIN: usize = 3;

/// The layout, and the runs of both settings in the order of their blocks (or as they were).
#[must_use]
pub fn layout_of<'a>(
    a: &'a [PassFigures],
    b: &'a [PassFigures],
) -> (Layout, Vec<&'a PassFigures>, Vec<&'a PassFigures>) {
    let as_given = |runs: &'a [PassFigures]| runs.iter().collect::<Vec<_>>();
    if a.len() < RUNS_MIN || b.len() < RUNS_MIN {
        return (Layout::TooFew, as_given(a), as_given(b));
    }
    let mut driven: Vec<(&PassFigures, bool)> =
        a.iter().map(|run| (run, true)).chain(b.iter().map(|run| (run, false))).collect();
    driven.sort_by(|one, other| (&one.0.started, &one.0.run).cmp(&(&other.0.started, &other.0.run)));
    let (mut of_a, mut of_b) = (Vec::new(), Vec::new());
    for block in driven.chunks(2) {
        match block {
            [(first, true), (second, false)] | [(second, false), (first, true)] => {
                of_a.push(*first);
                of_b.push(*second);
            }
            _ => return (Layout::Independent, as_given(a), as_given(b)),
        }
    }
    (Layout::Blocks, of_a, of_b)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn runs(times: &[&str]) -> Vec<PassFigures> {
        let run = |time: &&str| PassFigures {
            run: (*time).to_owned(),
            setting: String::new(),
            started: (*time).to_owned(),
            conditions: Default::default(),
            balance: Default::default(),
            figures: Default::default(),
        };
        times.iter().map(run).collect()
    }

    #[test]
    fn alternating_passes_are_blocks_and_others_are_not() {
        let (layout, a, b) = {
            let (a, b) = (runs(&["1", "4", "5"]), runs(&["6", "3", "2"]));
            let (layout, of_a, of_b) = layout_of(&a, &b);
            let names = |runs: Vec<&PassFigures>| runs.iter().map(|r| r.run.clone()).collect::<Vec<_>>();
            (layout, names(of_a), names(of_b))
        };
        assert_eq!(layout, Layout::Blocks);
        assert_eq!(a, ["1", "4", "5"]);
        assert_eq!(b, ["2", "3", "6"]);
        let (a, b) = (runs(&["1", "2", "5"]), runs(&["3", "4", "6"]));
        assert_eq!(layout_of(&a, &b).0, Layout::Independent);
        assert_eq!(layout_of(&a[..2], &b).0, Layout::TooFew);
    }
}
