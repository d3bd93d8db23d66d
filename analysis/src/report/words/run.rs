//! What is said of a run beside its verdict: what its intervals are of, where its speed is from, what to mind, and what
//! is to be known of bobbing.

use super::inputs::input;
use super::notices::speed_source;
use crate::report::units::percent;
use crate::summary::{BobbingNote, SharperBy, Summary, WheelTurn};
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

/// All notes of a run, as one line; `None` without any.
pub fn bobbing_notes(summary: &Summary) -> Option<String> {
    let load = summary.judged_by.unwrap_or("load");
    let notes: Vec<String> = summary.bobbing_notes.iter().map(|one| note(one, load)).collect();
    (!notes.is_empty()).then(|| notes.join("; "))
}

/// One note; `load` is what the load is called whose spectrum was searched.
fn note(note: &BobbingNote, load: &str) -> String {
    match note {
        BobbingNote::NoLoad => "no load was measured in which bobbing could be seen".to_owned(),
        BobbingNote::NoSpectrum => {
            "the working part is too short or too torn to search for bobbing".to_owned()
        }
        BobbingNote::NoPeak => {
            format!("no peak of the {load} stands out of its background at the 1 % level")
        }
        BobbingNote::PoorFit => {
            "no sum of up to three oscillators describes the spectrum: the top of the smoothed \
                                 peak is given, with a wide interval, and no damping"
                .to_owned()
        }
        BobbingNote::NoSpeed => {
            "without a speed the turn of an out-of-round wheel cannot be told from bobbing".to_owned()
        }
        BobbingNote::SlowNotSeen { seen_from_hz } => format!(
            "with so short a pass, or so many gaps, bobbing under {seen_from_hz:.1} Hz cannot be seen"
        ),
        BobbingNote::MuchLifted { lifted_share } => format!(
            "the wheel was off the ground for {:.0} % of the time: what swings then is not the plow on its springs \
             alone",
            100.0 * lifted_share
        ),
        BobbingNote::BoxTooSlow { half_rate_hz, whole_plow } => format!(
            "by weight, geometry and springs {} would swing faster than {half_rate_hz:.1} Hz, half of the rate that \
             the box samples at; such swings show at a lower frequency that is not theirs",
            if *whole_plow { "the plow" } else { "its front" }
        ),
        BobbingNote::DampingTooHigh => {
            "with the drawbar too steep the front wheels may leave the ground at the peaks \
                                        of the pull, and the damping ratio then comes out too high"
                .to_owned()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_makes_bobbing_another_thing_is_told() {
        let lifted = note(&BobbingNote::MuchLifted { lifted_share: 0.3 }, "tail load");
        assert!(lifted.starts_with("the wheel was off the ground for 30 % of the time"), "{lifted}");
        let slow = |half_rate_hz, whole_plow| note(&BobbingNote::BoxTooSlow { half_rate_hz, whole_plow }, "");
        assert!(slow(5.0, false).contains("its front would swing faster than 5.0 Hz"));
        assert!(slow(2.0, true).contains("the plow would swing faster than 2.0 Hz"));
        assert!(note(&BobbingNote::NoPeak, "heel load").contains("no peak of the heel load"));
    }
}
