//! The values of a reduced series in rising order: shares under a value, values at a share, and the tails beyond.

use super::bins::Bins;

/// Share of the values from which a tail is continued.
const TAIL_SHARE: f64 = 0.05;

/// Values in rising order, each with its bin.
pub(crate) struct Ordered<'a> {
    values: &'a [(f64, u32)],
    bins: usize,
}

impl<'a> Ordered<'a> {
    pub fn of(bins: &'a Bins) -> Self {
        Self { values: &bins.thinned, bins: bins.bins.len() }
    }

    fn under(&self, x: f64) -> usize {
        self.values.partition_point(|(value, _)| *value < x)
    }

    /// Share of the values under `x`.
    pub fn share_below(&self, x: f64) -> f64 {
        self.under(x) as f64 / self.values.len() as f64
    }

    /// The value that a `share` of the values lies under.
    pub fn value_at(&self, share: f64) -> f64 {
        let place = ((share * self.values.len() as f64) as usize).min(self.values.len() - 1);
        // A series has values, and so a last one.
        self.values[place].0
    }

    /// For each bin, the share of its values that lie under `x`.
    pub fn under_by_bin(&self, x: f64) -> Vec<f64> {
        let (mut under, mut all) = (vec![0.0; self.bins], vec![0.0_f64; self.bins]);
        for (value, bin) in self.values {
            let bin = *bin as usize;
            if let (Some(under), Some(all)) = (under.get_mut(bin), all.get_mut(bin)) {
                *under += f64::from(u8::from(*value < x));
                *all += 1.0;
            }
        }
        under.iter().zip(all).map(|(under, all)| under / all.max(1.0)).collect()
    }

    /// Share under `x`; below the lowest twentieth at least that of an exponential tail with the mean excess of
    /// that twentieth, which is heavier than a normal one (exceedances over a high threshold: Pickands 1975,
    /// Annals of Statistics 3(1), 119–131, shape 0).
    pub fn share_below_or_beyond(&self, x: f64) -> f64 {
        let count = (TAIL_SHARE * self.values.len() as f64) as usize;
        let excess = self.values.iter().take(count.max(1)).map(|(value, _)| *value);
        self.share_below(x).max(beyond(excess, self.value_at(TAIL_SHARE), x))
    }

    /// The same for the share at or above `x`.
    pub fn share_above_or_beyond(&self, x: f64) -> f64 {
        let count = (TAIL_SHARE * self.values.len() as f64) as usize;
        let excess = self.values.iter().rev().take(count.max(1)).map(|(value, _)| -*value);
        (1.0 - self.share_below(x)).max(beyond(excess, -self.value_at(1.0 - TAIL_SHARE), -x))
    }
}

/// Share under `x` by the exponential tail of `lowest`, the values under `edge`; 0 where `x` is not beyond it.
fn beyond(lowest: impl ExactSizeIterator<Item = f64>, edge: f64, x: f64) -> f64 {
    let count = lowest.len() as f64;
    let excess = lowest.map(|value| edge - value).sum::<f64>() / count;
    if x < edge && excess > 0.0 { TAIL_SHARE * (-(edge - x) / excess).exp() } else { 0.0 }
}
