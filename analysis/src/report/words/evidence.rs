//! What speaks for a cause, or against it.

use crate::causes::{DeadBand, End, Evidence, Holds};
use crate::report::units::{Units, percent, probability_percent, signed, signed_interval};
use ingest::plow::Plow;
use ingest::quantity::SaidIn;
use stats::Estimate;

/// Whom it is told, and of what.
pub(super) struct Reader<'a> {
    /// What the load is called whose spectrum was searched.
    pub load: &'a str,
    pub plow: &'a Plow,
    pub units: Units,
}

impl Reader<'_> {
    /// One thing that speaks for a cause, or against it.
    pub fn evidence(&self, evidence: &Evidence) -> String {
        let Self { load, plow, units } = self;
        match evidence {
            Evidence::NoFigures { error } => error.said_in((*units).into()),
            Evidence::FitTogether => "pull, loads and geometry fit together".to_owned(),
            Evidence::StuckOrAtEnd { channel } => format!(
                "{} stood still, or was at the end of its converter, for some of the time",
                channel.in_words()
            ),
            Evidence::ZeroMoved { channel } => {
                format!("the zero of {} has moved, if the drawbar was slack", channel.in_words())
            }
            Evidence::ZeroAsCalibrated { channel } => {
                format!("{} read its zero as calibrated", channel.in_words())
            }
            Evidence::BeyondRange { channel, share } => format!(
                "{} was beyond what it was calibrated for in {} of the readings",
                channel.in_words(),
                percent(*share)
            ),
            Evidence::CalibrationsOld { channels } => {
                format!("the calibration of {} is over a year old", channels.join(", "))
            }
            Evidence::CalibrationsAfterRun { channels } => {
                format!("the calibration of {} was made after the run", channels.join(", "))
            }
            Evidence::SoilLifts { probability, soil_slope } => format!(
                "the soil lifts the plow with a chance of {} (soil slope {})",
                probability_percent(*probability),
                signed_interval(soil_slope)
            ),
            Evidence::SharesStated { share } => format!("the shares were stated to be {share}"),
            Evidence::TailLosesMore => {
                "the tail wheel loses more load with pull than the statics says, as when the \
                                        shares carry the plow"
                    .to_owned()
            }
            Evidence::RanShallower { share } => {
                format!("the plow ran {} shallower than it was blocked for", percent(*share))
            }
            Evidence::DepthFollowsPull(found) => {
                // For a tenth of the mean pull.
                let tenth = |m_per_n: f64| units.small_height(m_per_n * found.pull_n / 10.0);
                let Estimate { value, low, high } = found.beyond_tail_spring_m_per_n;
                format!(
                    "depth changes by {} ({} to {}) for each 10 % more pull, slowly, the tail wheel's spring taken out; \
                     wheels that hold explain {}",
                    tenth(value),
                    tenth(low),
                    tenth(high),
                    tenth(found.front_gives_m_per_n)
                )
            }
            Evidence::SideForce { side_n, share_of_pull } => format!(
                "mean side force {}, {} of the pull",
                units.force_interval(side_n),
                percent(*share_of_pull)
            ),
            Evidence::HitchBalanced => "the hitch is balanced, so it is not that".to_owned(),
            Evidence::HitchNotBalanced => {
                "the hitch is not shown to be balanced: settle that first".to_owned()
            }
            Evidence::HitchOff { probability, balance_index } => format!(
                "chance {}, balance index {}",
                probability_percent(*probability),
                signed_interval(balance_index)
            ),
            Evidence::Lifted { front, share } => {
                let parts = plow.part_names();
                let carrier = if *front { parts.front } else { parts.tail };
                format!("next to nothing was on the {carrier} for {} of the time", percent(*share))
            }
            Evidence::FrontAtPeaks(found) => {
                let Estimate { value, low, high } = found.off_ground_share;
                format!(
                    "the front wheels were off the ground for {} of the time ({} to {}) and carried {} at the highest \
                     pulls, {} at rest",
                    percent(value),
                    percent(low),
                    percent(high),
                    units.force_n(found.at_peaks_n),
                    units.force_n(found.static_n)
                )
            }
            Evidence::PilesUp(pile) => format!(
                "the deflection piles up at its {}, {}: {} of the readings, {:.0} times as many as beside \
                 it, {} times over",
                end_name(pile.end),
                units.height(pile.at_mm / 1000.0),
                percent(pile.share),
                pile.ratio,
                pile.visits
            ),
            Evidence::CutOff(sharp) => format!(
                "the deflection is cut off at its {}, {}: its outermost twentieth lies within {}, that of the other \
                 end within {}",
                end_name(sharp.end),
                units.height(sharp.at_mm / 1000.0),
                units.small_height(sharp.length_mm / 1000.0),
                units.small_height(sharp.other_mm / 1000.0)
            ),
            Evidence::SensorAtEnd => {
                "the sensor was at the end of its converter: it may be that alone".to_owned()
            }
            Evidence::RunsOut => "the deflection runs out as a free wheel's does".to_owned(),
            Evidence::Jumps(DeadBand { low_mm, high_mm, crossings, speed_ratio, .. }) => format!(
                "the deflection jumps between about {} and {}, {crossings} times, {speed_ratio:.1} times as fast as it \
                 moves beside that, and is hardly ever in between",
                units.small_height(low_mm / 1000.0),
                units.small_height(high_mm / 1000.0),
            ),
            Evidence::NoJumps => "no band that the deflection jumps across".to_owned(),
            Evidence::StandsStill(Holds { holds, share, longest_s }) => format!(
                "the deflection stood still {holds} times at one level or another, {} of the time, up to {longest_s:.1} \
                 s",
                percent(*share)
            ),
            Evidence::NeverStandsStill => {
                "the deflection does not hold still while the plow works".to_owned()
            }
            Evidence::TailTurn { peak_hz, turn_hz } => format!(
                "the {load} has a peak at {peak_hz:.2} Hz, where the wheel turns once ({turn_hz:.2} Hz)"
            ),
            Evidence::BobbingLooksTheSame => {
                "bobbing that happens to lie there would look the same".to_owned()
            }
            Evidence::NoTailTurn { turn_hz } => {
                format!("no peak at {turn_hz:.2} Hz, where the wheel turns once")
            }
            Evidence::FrontTurn { peak_hz } => {
                format!("the {load} has a peak at {peak_hz:.2} Hz, where the front wheels turn once")
            }
            Evidence::GainOff { rises, expected_gain_n_per_n } => format!(
                "the tail load {} with the pull than the statics says ({} for each unit of pull): stop, linkage, load \
                 table or a soil force that moves",
                if *rises { "rises more" } else { "falls more" },
                signed_interval(expected_gain_n_per_n)
            ),
            Evidence::GainAgrees { expected_gain_n_per_n } => format!(
                "the tail load follows the pull as the statics says ({})",
                signed(*expected_gain_n_per_n)
            ),
        }
    }
}

fn end_name(end: End) -> &'static str {
    match end {
        End::Most => "most",
        End::Least => "least",
    }
}
