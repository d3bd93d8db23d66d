//! The tail wheel's deflection as a heap of readings: what the tests for faults of its linkage share.

use rayon::slice::ParallelSliceMut;

/// Fewer readings say nothing of a histogram.
const READINGS_MIN: usize = 500;

/// Deflection over the working part.
#[derive(Clone, Debug)]
pub struct Deflection<'a> {
    /// Gap-free stretches, mm.
    pub pieces: Vec<&'a [f64]>,
    /// Readings per second.
    pub rate_hz: f64,
    sorted: Vec<f64>,
}

impl<'a> Deflection<'a> {
    /// `None` with too few readings, or none that differ.
    #[must_use]
    pub fn of(pieces: Vec<&'a [f64]>, rate_hz: f64) -> Option<Self> {
        let mut sorted: Vec<f64> = pieces.iter().flat_map(|piece| *piece).copied().collect();
        sorted.par_sort_unstable_by(f64::total_cmp);
        if sorted.len() < READINGS_MIN {
            return None;
        }
        Some(Self { pieces, rate_hz, sorted }).filter(|found| found.spread_mm() > 0.0)
    }

    /// How many readings there are.
    #[must_use]
    pub fn readings(&self) -> usize {
        self.sorted.len()
    }

    /// The value under which this share of the readings lies, from 0 to 1, mm.
    #[must_use]
    pub fn quantile_mm(&self, share: f64) -> f64 {
        // There are readings, and so a last one.
        self.sorted[(share.clamp(0.0, 1.0) * (self.sorted.len() - 1) as f64).round() as usize]
    }

    /// From the 5th to the 95th percentile, mm.
    #[must_use]
    pub fn spread_mm(&self) -> f64 {
        self.quantile_mm(0.95) - self.quantile_mm(0.05)
    }

    /// Readings above `low_mm` and up to `high_mm`.
    #[must_use]
    pub fn count(&self, low_mm: f64, high_mm: f64) -> usize {
        let up_to = |mm: f64| self.sorted.partition_point(|value| *value <= mm);
        up_to(high_mm).saturating_sub(up_to(low_mm))
    }
}
