//! The channels of a box: what each measures, and its name.

use crate::Label;

/// What a channel measures. The code is on the wire; an unknown code is kept as a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ChannelKind {
    /// Force along the drawbar.
    Pull,
    /// Deflection of the tail-wheel spring.
    TailDeflection,
    /// Working depth.
    Depth,
    /// Vertical load on the front wheels together.
    FrontLoad,
    /// Side force.
    Side,
    /// Forward speed.
    Speed,
    /// Pitch of the frame.
    Pitch,
    /// Vertical load on what carries the tail, measured directly.
    TailLoad,
    /// Force along the lower links together, pulling +.
    LowerLinks,
    /// Force along the top link, pulling +.
    TopLink,
    /// Height of the frame over the land at the front.
    FrontHeight,
    /// Inclination of the drawbar, rising toward the tractor +.
    DrawbarAngle,
    /// A kind that this version has no name for.
    Other(u8),
}

impl ChannelKind {
    /// The byte on the wire.
    #[must_use]
    pub const fn code(self) -> u8 {
        match self {
            Self::Pull => 1,
            Self::TailDeflection => 2,
            Self::Depth => 3,
            Self::FrontLoad => 4,
            Self::Side => 5,
            Self::Speed => 6,
            Self::Pitch => 7,
            Self::TailLoad => 8,
            Self::LowerLinks => 9,
            Self::TopLink => 10,
            Self::FrontHeight => 11,
            Self::DrawbarAngle => 12,
            Self::Other(code) => code,
        }
    }

    /// The kind behind a byte on the wire.
    #[must_use]
    pub const fn from_code(code: u8) -> Self {
        match code {
            1 => Self::Pull,
            2 => Self::TailDeflection,
            3 => Self::Depth,
            4 => Self::FrontLoad,
            5 => Self::Side,
            6 => Self::Speed,
            7 => Self::Pitch,
            8 => Self::TailLoad,
            9 => Self::LowerLinks,
            10 => Self::TopLink,
            11 => Self::FrontHeight,
            12 => Self::DrawbarAngle,
            other => Self::Other(other),
        }
    }
}

/// One line of a box's channel table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Channel {
    /// Name, 1 to 12 bytes: how `plow.toml` refers to it.
    pub name: Label<12>,
    /// What it measures.
    pub kind: ChannelKind,
    /// Resolution of its converter in bits, 1 to 32. Counts of n bits lie in -2^(n-1) to 2^n - 1:
    /// a converter may be signed or unsigned.
    pub adc_bits: u8,
    /// Rate at which it has new values, in mHz; a channel slower than the rows repeats its last value.
    pub rate_mhz: u32,
}

impl Default for Channel {
    fn default() -> Self {
        Self { name: Label::default(), kind: ChannelKind::Other(0), adc_bits: 1, rate_mhz: 1 }
    }
}
