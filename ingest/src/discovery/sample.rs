//! Raw counts of a stretch of time, and what they come to.

/// Rows that came in a stretch of time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sample {
    /// Raw counts, a list a channel, in the order of the box's channel table; all of the same length.
    pub counts: Vec<Vec<i32>>,
    /// Rows that are missing between the first and the last one here.
    pub rows_lost: u64,
    /// In how many places they are missing.
    pub gaps: u64,
    /// How often the box began anew meanwhile.
    pub restarts: u64,
    /// Frames that came damaged.
    pub frames_damaged: u64,
}

impl Sample {
    /// How many rows came.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.counts.first().map_or(0, Vec::len)
    }

    /// What a channel's counts come to; `None` without a row or without such a channel.
    #[must_use]
    pub fn statistics(&self, channel: usize) -> Option<SampleStatistics> {
        SampleStatistics::of(self.counts.get(channel)?.iter().map(|count| f64::from(*count)))
    }
}

/// Mean and spread of some numbers.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, schemars::JsonSchema)]
#[schemars(extend("unit" = "counts, or that of the channel's column"))]
pub struct SampleStatistics {
    /// How many.
    pub n: usize,
    /// Their mean.
    pub mean: f64,
    /// Their SD (divisor n − 1); 0 for a single one.
    pub sd: f64,
    /// The smallest.
    pub min: f64,
    /// The largest.
    pub max: f64,
    /// Mean of the second half less mean of the first: what they drifted by. 0 with fewer than two.
    pub drift: f64,
}

impl SampleStatistics {
    /// Of these numbers; `None` if there are none.
    #[must_use]
    pub fn of(numbers: impl Iterator<Item = f64>) -> Option<Self> {
        let numbers: Vec<f64> = numbers.collect();
        let mean_of = |part: &[f64]| part.iter().sum::<f64>() / part.len() as f64;
        let n = numbers.len();
        if n == 0 {
            return None;
        }
        let mean = mean_of(&numbers);
        let squares: f64 = numbers.iter().map(|x| (x - mean).powi(2)).sum();
        let sd = if n > 1 { (squares / (n - 1) as f64).sqrt() } else { 0.0 };
        let (first, second) = numbers.split_at(n / 2);
        let drift = if first.is_empty() { 0.0 } else { mean_of(second) - mean_of(first) };
        let (min, max) =
            numbers.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), x| (a.min(*x), b.max(*x)));
        Some(Self { n, mean, sd, min, max, drift })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST StRD, univariate summary statistics, data set NumAcc1: 10000001, 10000003 and 10000002 have the certified
    /// mean 10000002 and SD 1. Counts that large and that close are where a sum of squares loses its digits.
    #[test]
    fn numacc1_of_nist() {
        let statistics =
            SampleStatistics::of([10_000_001.0, 10_000_003.0, 10_000_002.0].into_iter()).unwrap();
        assert_eq!((statistics.n, statistics.mean, statistics.sd), (3, 10_000_002.0, 1.0));
        assert_eq!((statistics.min, statistics.max), (10_000_001.0, 10_000_003.0));
        assert_eq!(statistics.drift, 1.5);
    }

    #[test]
    fn one_number_has_no_spread_and_none_has_nothing() {
        let statistics = SampleStatistics::of([7.0].into_iter()).unwrap();
        assert_eq!((statistics.mean, statistics.sd, statistics.drift), (7.0, 0.0, 0.0));
        assert_eq!(SampleStatistics::of(std::iter::empty()), None);
    }
}
