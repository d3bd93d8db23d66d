//! Samples of a Monte Carlo, equal in weight, and the figures that they give (JCGM 101:2008).

use ingest::quantity::Quantity;
use stats::{Estimate, descriptive::percentiles};
use std::ops::Deref;

/// The samples that were accepted, as a slice, and how many were tried for them.
#[derive(Clone, Debug, PartialEq)]
pub struct Samples<T> {
    accepted: Vec<T>,
    tried: usize,
}

impl<T> Samples<T> {
    /// Those that were accepted of so many tried.
    pub const fn new(accepted: Vec<T>, tried: usize) -> Self {
        Self { accepted, tried }
    }

    /// How many were tried.
    pub const fn tried(&self) -> usize {
        self.tried
    }

    /// Whether at least this share of `wanted` was accepted, and any at all.
    pub fn are_enough(&self, share_min: f64, wanted: usize) -> bool {
        !self.is_empty() && self.len() as f64 >= share_min * wanted as f64
    }

    /// What `of` makes of each.
    pub fn map<'a, U>(&'a self, of: impl FnMut(&'a T) -> U) -> Samples<U> {
        Samples { accepted: self.iter().map(of).collect(), tried: self.tried }
    }

    /// Median and central 95 % of a figure; `None` without samples, or with one that is not finite. The median, not
    /// the mean, because it lies within the interval whatever the shape, and b has an end at ±1.
    pub fn estimate<Q: Quantity>(&self, of: impl Fn(&T) -> Q) -> Option<Estimate<Q>> {
        let values: Vec<f64> = self.iter().map(|sample| of(sample).si()).collect();
        let [median, low, high] = percentiles(&values, &[50.0, 2.5, 97.5]).ok()?.try_into().ok()?;
        Estimate::new(median, low, high).map(Estimate::from_si)
    }

    /// Share of the accepted samples in which something holds; `None` without samples.
    pub fn probability(&self, holds: impl Fn(&T) -> bool) -> Option<f64> {
        let count = self.iter().filter(|sample| holds(sample)).count();
        (!self.is_empty()).then(|| count as f64 / self.len() as f64)
    }
}

impl<T> Deref for Samples<T> {
    type Target = [T];

    fn deref(&self) -> &[T] {
        &self.accepted
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_those_of_the_accepted_samples() {
        let samples = Samples::new((0..=100).map(f64::from).collect(), 404);
        let twice = samples.map(|x| 2.0 * x).estimate(|x| *x).unwrap();
        assert_eq!((twice.value, twice.low, twice.high), (100.0, 5.0, 195.0));
        assert_eq!(samples.probability(|x| *x < 50.5), Some(51.0 / 101.0));
        assert_eq!(samples.tried(), 404);
        assert!(samples.are_enough(0.25, 404) && !samples.are_enough(0.3, 404));
        let none = Samples::<f64>::new(Vec::new(), 404);
        assert_eq!((none.estimate(|x| *x), none.probability(|_| true)), (None, None));
        assert!(!none.are_enough(0.0, 1));
    }
}
