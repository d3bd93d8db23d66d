//! Spectra of one channel and of two: power, cross spectrum and coherence, the background a peak must stand
//! out of, and the bobbing peak itself.
//!
//! A *stretch* is a gap-free piece of a channel; a *segment* is what one Fourier transform is taken of.
//! Segments never reach across a gap.

pub mod background;
pub mod bobbing;
pub mod cross;
pub mod low_frequency_gain;
pub mod modes;
pub mod octave;
pub mod resonance;
mod segments;
pub mod thinned;
pub mod welch;

/// Why a spectrum cannot be given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SpectrumError {
    /// No gap-free stretch is as long as one segment, or too few segments fit.
    #[error(
        "{what} needs {needed} gap-free segments of {segment_len} readings and {found} fit: record longer, or \
         choose shorter segments"
    )]
    TooShort {
        /// What was asked for.
        what: &'static str,
        /// Segments needed.
        needed: usize,
        /// Segments that fit.
        found: usize,
        /// Readings in a segment.
        segment_len: usize,
    },
    /// A segment length, rate or frequency that makes no sense.
    #[error("{what} is {given}, and must be {must}")]
    Setting {
        /// Name of the setting.
        what: &'static str,
        /// What it must be.
        must: &'static str,
        /// What it was.
        given: f64,
    },
    /// A reading that is NaN or infinite.
    #[error("a spectrum cannot hold readings that are not finite numbers: split the channel there first")]
    NotFinite,
    /// Too little of a spectrum to know its background from.
    #[error(
        "the band searched for peaks has {found} bins with power, and {needed} are needed: widen the band, or \
         record longer"
    )]
    TooFewBins {
        /// Bins needed.
        needed: usize,
        /// Bins with power.
        found: usize,
    },
    /// The two channels of a cross spectrum are not cut into the same stretches.
    #[error("stretch {stretch} has {left} readings of one channel and {right} of the other")]
    UnequalStretches {
        /// Index of the stretch.
        stretch: usize,
        /// Readings of the first channel.
        left: usize,
        /// Readings of the second channel.
        right: usize,
    },
}
