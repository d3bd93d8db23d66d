//! The stationary bootstrap: which bins a resampled series is made of.

use super::StatsError;
use super::bins::Bins;
use super::block_length::optimal_block_length;
use super::student::{Z_975, t_quantile};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// How often a series is resampled, and from which seed: the same two give the same interval again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Resampling {
    /// Number of resampled series; the ends of a 95 % interval settle from about 500 on.
    pub replicates: usize,
    /// Seed of the random numbers.
    pub seed: u64,
}

impl Default for Resampling {
    fn default() -> Self {
        Self { replicates: 1000, seed: 20 }
    }
}

/// Draws index lists by the stationary bootstrap (Politis & Romano 1994, JASA 89, 1303–1313): blocks start
/// anywhere, their lengths are geometric with the given mean, and the series is closed into a ring.
///
/// Blocks run over the joins of the concatenated stretches (and of the ring's ends) as if there were no gap.
/// One join in a few thousand bins does not move an interval; breaking blocks there would shorten them near
/// every gap.
pub(crate) struct BlockResampler {
    rng: ChaCha8Rng,
    len: usize,
    /// ln(1 − 1/b), what a geometric draw by inversion divides by; −∞ for blocks of one.
    ln_go_on: f64,
}

impl BlockResampler {
    /// For a series of `len` bins and blocks of `mean_block` bins on average.
    pub fn new(len: usize, mean_block: f64, seed: u64) -> Self {
        Self { rng: ChaCha8Rng::seed_from_u64(seed), len, ln_go_on: (1.0 - 1.0 / mean_block.max(1.0)).ln() }
    }

    /// Fills `picks` with `len` indices of a new resampled series.
    pub fn draw(&mut self, picks: &mut Vec<u32>) {
        picks.clear();
        while picks.len() < self.len {
            let start = self.rng.random_range(0..self.len);
            let uniform: f64 = 1.0 - self.rng.random::<f64>();
            // u in (0, 1]; a float cast to usize saturates, so a vast length is safe.
            let block = 1 + (uniform.ln() / self.ln_go_on).abs() as usize;
            let block = block.min(self.len - picks.len());
            let to_the_end = block.min(self.len - start);
            picks.extend((start..start + to_the_end).map(|i| i as u32));
            picks.extend((0..block - to_the_end).map(|i| i as u32));
        }
    }
}

/// Block length and widening that fit a reduced series.
#[derive(Clone, Copy, Debug)]
pub(crate) struct BlockPlan {
    /// Mean block length, bins.
    pub mean_block: f64,
    /// How many blocks of that length the series holds.
    pub blocks: f64,
    /// Factor by which the distances from figure to interval ends are stretched.
    pub stretch: f64,
}

impl BlockPlan {
    /// The longer of the block lengths that the bin means and the bin mean squares ask for, so that mean and
    /// standard deviation are both covered.
    ///
    /// Percentile intervals of the bootstrap are too narrow when a series holds few blocks. (1) Resampling is
    /// about the sample's own mean, which takes the share 2/blocks out of the resampled variance (the
    /// covariance window (1 − 1/b)^|k| has mass 2b of n): the factor √(blocks/(blocks − 2)) puts it back. (2)
    /// The resampled variance is itself uncertain, with relative variance 2b/n as a χ² of `blocks` degrees of
    /// freedom has: Student's t₀.₉₇₅(blocks − 1)/z₀.₉₇₅ allows for it. What this reaches is measured in the
    /// tests of `series_figures`.
    pub fn for_bins(bins: &Bins) -> Result<Self, StatsError> {
        let means: Vec<f64> = bins.bins.iter().map(|b| b.sum / b.count).collect();
        let squares: Vec<f64> = bins.bins.iter().map(|b| b.squares / b.count).collect();
        let mean_block = BLOCK_FACTOR * optimal_block_length(&means)?.max(optimal_block_length(&squares)?);
        let blocks = (means.len() as f64 / mean_block).max(FEWEST_BLOCKS);
        let centring = (blocks / (blocks - 2.0)).sqrt();
        let stretch = centring * t_quantile(0.975, blocks - 1.0) / Z_975;
        Ok(Self { mean_block, blocks, stretch })
    }
}

/// With fewer blocks than this the widening has no finite meaning; it is held there (factor 4).
const FEWEST_BLOCKS: f64 = 4.0;

/// The automatic length minimises the mean squared error of a variance; an interval that holds its level
/// wants longer blocks, because bias costs coverage and variance is met by Student's t (Sun, Phillips & Jin
/// 2008, Econometrica 76(1), 175–194, show it for the same problem in the frequency domain). The factor is
/// set by the coverage test.
const BLOCK_FACTOR: f64 = 2.0;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn blocks_have_the_mean_length_asked_for_and_every_bin_its_turn() {
        let (len, mean_block) = (1000, 12.0);
        let mut resampler = BlockResampler::new(len, mean_block, 5);
        let mut picks = Vec::new();
        let (mut jumps, mut hits) = (0_usize, vec![0_u32; len]);
        for _ in 0..400 {
            resampler.draw(&mut picks);
            assert_eq!(picks.len(), len);
            jumps += picks.windows(2).filter(|w| (w[0] as usize + 1) % len != w[1] as usize).count();
            picks.iter().for_each(|&i| hits[i as usize] += 1);
        }
        let measured = 400.0 * 1000.0 / (jumps as f64 + 400.0);
        assert!((measured / mean_block - 1.0).abs() < 0.03, "mean block {measured}");
        // Each bin is expected 400 times, with a spread of about sqrt(400 * 12) = 69.
        assert!(hits.iter().all(|&h| h > 50), "a bin was nearly never drawn");
    }

    #[test]
    fn the_same_seed_gives_the_same_picks_and_blocks_of_one_are_plain_resampling() {
        let draw = |seed| {
            let mut picks = Vec::new();
            BlockResampler::new(50, 1.0, seed).draw(&mut picks);
            picks
        };
        assert_eq!(draw(1), draw(1));
        assert_ne!(draw(1), draw(2));
        let runs = draw(3).windows(2).filter(|w| w[0] + 1 == w[1]).count();
        assert!(runs < 8, "{runs} of 49 neighbours kept");
    }
}
