//! What of a run's readings cannot be, as data, and how it is said.

use ingest::plow::ChannelRole;
use ingest::quantity::{Force, Length, SaidIn, UnitSlip, UnitSystem, in_si};
use schemars::JsonSchema;
use serde::Serialize;
use std::fmt::{Display, Formatter};

/// Why readings cannot be those of this plow at work, whatever the statics would make of them.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Unbelievable {
    /// A plow at work is pulled.
    PullNotAboveZero {
        /// The mean.
        #[serde(rename = "pull_n", serialize_with = "in_si")]
        pull: Force,
    },
    /// A plow at work is in the ground.
    DepthNotAboveZero {
        /// The mean.
        #[serde(rename = "depth_m", serialize_with = "in_si")]
        depth: Length,
    },
    /// The depth is quite another than the one that the plow was measured for.
    DepthOff {
        /// The mean.
        #[serde(rename = "depth_m", serialize_with = "in_si")]
        depth: Length,
        /// As described.
        #[serde(rename = "described_m", serialize_with = "in_si")]
        described: Length,
        /// The one over the other.
        factor: f64,
        /// The slip of a unit that makes such a factor.
        slip: Option<UnitSlip>,
    },
    /// The pull is far from what is published for any soil, and a slip of its unit would explain it.
    PullOff {
        /// The mean.
        #[serde(rename = "pull_n", serialize_with = "in_si")]
        pull: Force,
        /// The least that would be usual at this depth.
        #[serde(rename = "usual_low_n", serialize_with = "in_si")]
        low: Force,
        /// The most.
        #[serde(rename = "usual_high_n", serialize_with = "in_si")]
        high: Force,
        /// The slip.
        slip: UnitSlip,
    },
    /// One number far outside of all others comes again and again.
    Stray {
        /// Where.
        channel: ChannelRole,
        /// The number, in the unit of the channel's column.
        #[serde(rename = "value_in_unit")]
        value: f64,
        /// Rows at work that have it.
        rows: usize,
    },
    /// Readings that the sensor cannot give by its description.
    OutsideSensor {
        /// Which.
        channel: ChannelRole,
        /// Share of the rows at work.
        share: f64,
    },
    /// A channel that stood still.
    StoodStill {
        /// Which.
        channel: ChannelRole,
        /// Share of the time at work, in one stretch.
        share: f64,
    },
}

impl SaidIn for Unbelievable {
    fn said_in(&self, units: UnitSystem) -> String {
        let force = |it| units.force_text(it);
        let length = |it: Length| match units {
            UnitSystem::Si => format!("{:.0} mm", 1000.0 * it.m()),
            UnitSystem::Us => units.length_text(it),
        };
        match *self {
            Self::PullNotAboveZero { pull } => format!(
                "the mean pull at work is {}, and a plow at work is pulled: check the sign and the zero of the pull sensor, \
                 and the file for a number that stands for a missing reading, such as -9999",
                force(pull)
            ),
            Self::DepthNotAboveZero { depth } => format!(
                "the mean depth at work is {}, which is not in the ground: check the sign and the zero of the depth gauge, \
                 and the file for a number that stands for a missing reading, such as -9999",
                length(depth)
            ),
            Self::DepthOff { depth, described, factor, slip } => {
                let times = if factor >= 1.0 {
                    format!("{} times", rounded(factor))
                } else {
                    format!("1/{} of", rounded(1.0 / factor))
                };
                let slip = slip.map_or_else(String::new, |slip| format!(" ({})", as_if(slip)));
                format!(
                    "the mean depth is {}, {times} the {} that the plow is described for{slip}: check the unit of the depth, \
                     the zero of its gauge, and the depth in the description",
                    length(depth),
                    length(described)
                )
            }
            Self::PullOff { pull, low, high, slip } => format!(
                "the mean pull is {}, where {} to {} would be usual at this depth ({}; ASABE D497.7, any soil): check the \
                 unit in which the pull was read or calibrated",
                force(pull),
                force(low),
                force(high),
                as_if(slip)
            ),
            Self::Stray { channel, value, rows } => format!(
                "{} reads {value} {} in {rows} rows at work, far outside of all its other readings: a number that stands for \
                 a missing reading? Import the file with --missing-value, or look at sensor and cable",
                channel.in_words(),
                channel.column_unit().symbol
            ),
            Self::OutsideSensor { channel, share } => format!(
                "{} reads for {:.1} % of the time at work what its sensor cannot give by its calibration and count_limits: \
                 check both, its sign, and the unit of the readings",
                channel.in_words(),
                100.0 * share
            ),
            Self::StoodStill { channel, share } => format!(
                "{} gave one and the same reading for {:.0} % of the time at work: look at sensor, linkage and cable",
                channel.in_words(),
                100.0 * share
            ),
        }
    }
}

/// What a slip is like.
fn as_if(slip: UnitSlip) -> String {
    let UnitSlip { really, taken_for, factor } = slip;
    let by = if factor >= 1.0 { rounded(factor) } else { format!("1/{}", rounded(1.0 / factor)) };
    format!("as if {really} were taken for {taken_for}, a factor of {by}")
}

/// Three digits.
fn rounded(factor: f64) -> String {
    match factor {
        large if large >= 100.0 => format!("{large:.0}"),
        middle if middle >= 10.0 => format!("{middle:.1}"),
        small => format!("{small:.2}"),
    }
}

impl Display for Unbelievable {
    fn fmt(&self, f: &mut Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.said_in(UnitSystem::Si))
    }
}

impl std::error::Error for Unbelievable {}
