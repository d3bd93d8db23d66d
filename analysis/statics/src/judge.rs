//! The whole way from what a stretch of readings says to the verdict on it: the same for the report of a pass and for
//! what is shown while it goes on.

use super::believable::unbelievable;
use super::contradiction::{TableReadings, Witness, held_against};
use super::identify::{Identified, IdentifyError, identify};
use super::inputs::RunFigures;
use super::verdict::{Indicators, Verdict, verdict};
use ingest::plow::{Plow, Setting};

/// Seed of the Monte Carlo: the same readings give the same verdict.
pub const DRAW_SEED: u64 = 0x0DD5;

/// What came of it.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The statics, held against what the readings show besides their means.
    pub identified: Result<Identified, IdentifyError>,
    /// The verdict; what it rests on is told by [`Judged::resting`] only.
    pub verdict: Verdict,
    witness: Witness,
}

/// Judges a stretch by its figures, by what its signals show besides, and by how its readings lie on the load table of
/// the tail's spring, with so many kept draws.
pub fn judge(
    (plow, setting): (&Plow, &Setting),
    figures: &RunFigures,
    (signs, table): (&Indicators, Option<TableReadings>),
    draws: usize,
) -> Judged {
    let witness = Witness { measured_gain: signs.gain_on_the_ground(plow.limits.lifted_share), table };
    let identified = match signs.stray.or_else(|| unbelievable((plow, setting), figures)) {
        Some(why) => Err(IdentifyError::Unbelievable(why)),
        None => {
            let identified = identify(plow, setting, figures, draws, DRAW_SEED);
            held_against((plow, setting), figures, &witness, identified)
        }
    };
    let verdict = verdict(plow, &identified, signs);
    Judged { identified, verdict, witness }
}

impl Judged {
    /// The same with what the verdict rests on, and whether it is firm ([`Verdict::resting_on`]): hundreds of further
    /// solutions.
    #[must_use]
    pub fn resting(mut self, plow_and_setting: (&Plow, &Setting), figures: &RunFigures) -> Self {
        let found = (&self.witness, &self.identified);
        self.verdict = self.verdict.resting_on(plow_and_setting, figures, found);
        self
    }
}
