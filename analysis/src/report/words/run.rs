//! What is said of a run beside its verdict: what its intervals are of, where its speed is from, what to mind.

use super::inputs::input;
use super::notices::speed_source;
use crate::report::units::percent;
use crate::summary::{SharperBy, Summary, WheelTurn};
use ingest::plow::Plow;
use statics::verdict::REJECTED_SHARE_TOLD;

/// What the intervals are of, for a reader who plows: on the terminal above the figures, on the page under the table.
pub(in crate::report) const INTERVALS_ARE_OF: &str = "Each interval is for such ground, not for this pass alone: of 100 such passes, \
     at least about 95 give one that holds the average of many.";

/// The working part, and what came in it.
pub(in crate::report) fn working_part(summary: &Summary) -> String {
    let part = summary.working_part;
    format!(
        "working part {:.0} s to {:.0} s, {} rows at {:.0} Hz, {} missing",
        part.from_s,
        part.to_s,
        summary.quality.readings,
        summary.quality.rate_hz,
        percent(summary.quality.missing_share)
    )
}

/// A peak that is a wheel turning.
pub(in crate::report) fn wheel_turn(turn: &WheelTurn) -> String {
    format!("the {} shows its turn at {:.2} Hz: out of round", turn.wheel.label(), turn.frequency_hz.value)
}

/// What the reader must not conclude, or must check first.
pub(in crate::report) fn cautions(summary: &Summary, plow: &Plow) -> Vec<String> {
    let mut lines = vec![INTERVALS_ARE_OF.to_owned()];
    if let Some(statics) = &summary.statics {
        let parts = plow.part_names();
        let inputs: Vec<String> =
            statics.dominant_inputs.iter().take(2).map(|one| input(one.input, &parts)).collect();
        lines.push(format!("The balance is uncertain most of all by {}.", inputs.join(" and ")));
        // Larger shares are told among the reasons, with what they mean.
        if statics.rejected_share > 0.01 && statics.rejected_share <= REJECTED_SHARE_TOLD {
            lines.push(format!(
                "{} of the draws could not be (a wheel that carries would have to pull down) and were rejected.",
                percent(statics.rejected_share)
            ));
        }
    }
    lines
}

/// Where the speed is from, and whether bobbing is of the ground.
pub(in crate::report) fn travel_line(summary: &Summary) -> Option<String> {
    let from = speed_source(summary.travel.as_ref()?.speed_from);
    let found = summary.per_metre.as_ref().filter(|found| found.wavelength_m.is_some());
    let bobbing = found.map(|found| match found.sharper {
        SharperBy::Distance => "; bobbing is sharper by distance than by time: a wave in the ground",
        SharperBy::Time => "; bobbing is sharper by time than by distance: the plow's own",
        SharperBy::NotShown => "; whether bobbing is of the ground or the plow's own: not shown",
    });
    Some(format!("speed by {from}{}", bobbing.unwrap_or_default()))
}
