//! What is to be known of bobbing, or why there is none.

use crate::summary::{BobbingNote, Summary};

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
