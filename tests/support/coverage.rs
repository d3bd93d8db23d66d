//! How often the intervals that an analysis tells hold what is true.

use std::collections::BTreeMap;

use stats::Estimate;

/// Of each figure, whether each interval that was told held, and how wide it was.
#[derive(Clone, Debug, Default)]
pub struct Coverage(BTreeMap<&'static str, Vec<(bool, f64)>>);

impl Coverage {
    /// Counts something that is told or not, held or not, with a width of its own.
    pub fn count(&mut self, what: &'static str, held: bool, width: f64) {
        self.0.entry(what).or_default().push((held, width));
    }

    /// Counts an interval against the truth; nothing if one of the two is not there.
    pub fn take(&mut self, what: &'static str, told: Option<&Estimate>, truth: Option<f64>) {
        if let (Some(told), Some(truth)) = (told, truth) {
            self.count(what, told.holds(truth), told.high - told.low);
        }
    }

    /// How many intervals of this figure held, and how many there were.
    pub fn of(&self, what: &str) -> (usize, usize) {
        self.0.get(what).map_or((0, 0), |all| (all.iter().filter(|(held, _)| *held).count(), all.len()))
    }

    pub fn figures(&self) -> impl Iterator<Item = &'static str> {
        self.0.keys().copied()
    }

    /// Prints a line for each figure.
    pub fn print(&self) {
        for (what, all) in &self.0 {
            let (held, n) = self.of(what);
            let mut widths: Vec<f64> = all.iter().map(|(_, width)| *width).collect();
            widths.sort_by(f64::total_cmp);
            let (share, middle) = (100.0 * held as f64 / n as f64, widths[n / 2]);
            println!("  {what:<56} {held:>4} of {n:>4}  {share:>5.1} %  middle width {middle:.3}");
        }
    }

    /// Both together.
    pub fn and(mut self, other: Self) -> Self {
        for (what, mut all) in other.0 {
            self.0.entry(what).or_default().append(&mut all);
        }
        self
    }
}
