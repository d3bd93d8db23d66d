//! Which random numbers a summary was worked out with.

use crate::causes::SHARES_SEED;
use schemars::JsonSchema;
use serde::Serialize;
use statics::contradiction::SLIPS_SEED;
use statics::identify::DRAWS;
use statics::judge::DRAW_SEED;
use statics::natural_frequencies::FREQUENCIES_SEED;
use statics::value_of_information::OUTCOMES_SEED;

/// Seeds of the random draws (ChaCha of 8 rounds). They never change, so that the same readings give the same figures.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Seeds {
    /// Of the draws behind statics, verdict and advice.
    pub statics: u64,
    /// How many of these draws were to be kept.
    pub statics_draws: usize,
    /// Of the draws with one entry off by a usual slip: `verdict.rests_on`.
    pub slips: u64,
    /// Of the outcomes of measurements not yet made: `next_measurements`.
    pub next_measurements: u64,
    /// Of what is not known of springs and weight: `expected_frequencies`.
    pub expected_frequencies: u64,
    /// Of the intervals of fitted modes: `bobbing`, `load_spectrum.fit`.
    pub modes: u64,
    /// Of the phase between such modes.
    pub modes_phase: u64,
    /// Of what the condition of the shares alone lets expect: `causes`.
    pub shares: u64,
}

impl Default for Seeds {
    fn default() -> Self {
        Self {
            statics: DRAW_SEED,
            statics_draws: DRAWS,
            slips: SLIPS_SEED,
            next_measurements: OUTCOMES_SEED,
            expected_frequencies: FREQUENCIES_SEED,
            modes: spectra::modes::DRAW_SEED,
            modes_phase: spectra::modes::PHASE_SEED,
            shares: SHARES_SEED,
        }
    }
}
