//! What the signals of a run say besides the statics.

use stats::Estimate;

/// What the verdict takes from the signals besides the statics.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Indicators {
    /// Share of the working part with the load that the pass is judged by under 5 % of its static value; `None`
    /// where there is no such load, or none that the plow would have standing.
    pub lifted_share: Option<f64>,
    /// Whether that load is the front's, not the tail's.
    pub front_lifted: bool,
    /// Low-frequency gain from pull to tail load, N per N of pull along the drawbar; `None` where coherence
    /// does not support one.
    pub measured_gain: Option<Estimate>,
}

impl Indicators {
    /// The measured gain where it says something of the plow: a wheel that is in the air for more than `lifted_limit`
    /// follows nothing, and its gain is too small for a reason already told.
    #[must_use]
    pub fn gain_on_the_ground(&self, lifted_limit: f64) -> Option<Estimate> {
        self.measured_gain.filter(|_| self.lifted_over(lifted_limit).is_none())
    }

    /// The lifted share where it is shown to be over a limit.
    #[must_use]
    pub fn lifted_over(&self, limit: f64) -> Option<f64> {
        self.lifted_share.filter(|share| *share > limit)
    }
}
