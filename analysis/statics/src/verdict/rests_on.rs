//! What a stated class rests on: entries that, wrong, would make it another without the readings telling, and
//! whether it is firm all the same.

use super::class::Class;
use super::reasons::Reason;
use super::stated::{RestsOn, Verdict};
use crate::contradiction::{Witness, rests_on};
use crate::draw::Draw;
use crate::identify::{Identified, IdentifyError};
use crate::inputs::RunFigures;
use ingest::plow::{Plow, Setting};

/// Entries told.
const TOLD: usize = 3;

/// What is shown is firm if, with one entry off by a usual slip that the readings do not tell, it would be otherwise
/// with this chance at most. Chosen on drawn plows (seeds 300 to 349) so that not one run in fifty with one wrong entry
/// is told a false class boldly; tested on others.
const FIRM_OTHER_SHARE_MAX: f64 = 0.08;

/// Whether a statement would be false. A bold one claims its class; "leaning" claims no more than a direction, so that
/// its neighbors do not make it false.
fn is_false(stated: Class, other: Class) -> bool {
    let place = |class| Class::SHOWN.into_iter().position(|shown| shown == class);
    let allowed = usize::from(matches!(stated, Class::LeaningFlat | Class::LeaningSteep));
    matches!((place(stated), place(other)), (Some(one), Some(other)) if one.abs_diff(other) > allowed)
}

impl Verdict {
    /// The verdict with what it rests on, and whether it is firm; unchanged where nothing is
    /// shown. What is shown is the class, or that the soil lifts the plow.
    #[must_use]
    pub fn resting_on(
        mut self,
        (plow, setting): (&Plow, &Setting),
        run: &RunFigures,
        (witness, identified): (&Witness, &Result<Identified, IdentifyError>),
    ) -> Self {
        let lifts = identified.as_ref().is_ok_and(Identified::lifts_shown);
        if self.class == Class::NotShown && !lifts {
            return self;
        }
        let class_of = |balance_index: f64| Class::of(balance_index, &plow.limits);
        // Where the soil is shown to lift, the shares are spoken of and not the hitch.
        let is_other = |draw: &Draw| match lifts {
            true => draw.side.soil_slope <= 0.0,
            false => is_false(self.class, class_of(draw.loads.bounded_balance_index())),
        };
        let Some(resting) = rests_on((plow, setting), run, witness, is_other) else { return self };
        self.firm = resting.other_share <= FIRM_OTHER_SHARE_MAX;
        self.other_by_slip = Some(resting.other_share);
        let told = resting.entries.into_iter().take(TOLD).map(|moved| RestsOn {
            class: class_of(moved.balance_index),
            entry: moved.entry,
            by: moved.by,
            unit: moved.unit,
            other_share: moved.other_share,
        });
        self.rests_on = told.collect();
        if !self.rests_on.is_empty() {
            self.reasons.push(Reason::Slips { other_share: resting.other_share, soil_lifts: lifts });
        }
        self
    }
}
