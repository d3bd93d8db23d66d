//! Spectra of one channel and of two: power, cross spectrum and coherence, the background a peak must stand
//! out of, and the bobbing peak itself.
//!
//! A *stretch* is a gap-free piece of a channel; a *segment* is what one Fourier transform is taken of.
//! Segments never reach across a gap.
//!
//! [`welch`](welch::welch) gives a spectrum, [`find_peaks`](bobbing::find_peaks) what stands out of it:
//!
//! ```
//! use spectra::bobbing::{SearchBand, find_peaks, wheel_turn_hz};
//! use spectra::welch::{segment_len_for, welch};
//! use std::f64::consts::TAU;
//!
//! // Two minutes at 50 Hz: uneven land (a seeded run of numbers), and a plow that bobs at 2.5 Hz.
//! let mut seed = 1_u32;
//! let mut land = || {
//!     seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
//!     f64::from(seed >> 8) / f64::from(1 << 24) - 0.5
//! };
//! let load_n: Vec<f64> =
//!     (0..6_000).map(|row| 900.0 + 300.0 * land() + 60.0 * (TAU * 2.5 * f64::from(row) / 50.0).sin()).collect();
//!
//! let spectrum = welch(&[&load_n], 50.0, segment_len_for(&[load_n.len()], 50.0))?;
//! let found = find_peaks(&spectrum, SearchBand::usual(&spectrum))?;
//! let bobbing = found.peaks.first().expect("a peak stands out");
//! assert!((bobbing.frequency_hz.value - 2.5).abs() < 0.05);
//! // RMS of a sine of 60 N.
//! assert!((bobbing.rms.value - 42.4).abs() < 5.0, "{bobbing:?}");
//!
//! // A wheel of 0.45 m turns 1.13 times a second at 1.6 m/s: that is another peak.
//! assert!((wheel_turn_hz(1.6, 0.45) - 1.132).abs() < 0.001);
//! # Ok::<(), spectra::SpectrumError>(())
//! ```

pub mod background;
pub mod bobbing;
pub mod cross;
pub mod low_frequency_gain;
pub mod modes;
pub mod octave;
pub mod resonance;
pub mod thinned;
pub mod welch;

/// Why a spectrum cannot be given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum SpectrumError {
    /// No gap-free stretch is as long as one segment (`segment_len` readings), or too few segments fit.
    #[error(
        "{what} needs {needed} gap-free segments of {segment_len} readings and {found} fit: record longer, or \
         choose shorter segments"
    )]
    TooShort { what: &'static str, needed: usize, found: usize, segment_len: usize },
    /// A segment length, rate or frequency that makes no sense.
    #[error("{what} is {given}, and must be {must}")]
    Setting { what: &'static str, must: &'static str, given: f64 },
    /// A reading that is NaN or infinite.
    #[error("a spectrum cannot hold readings that are not finite numbers: split the channel there first")]
    NotFinite,
    /// Too little of a spectrum to know its background from: bins needed, and bins with power.
    #[error(
        "the band searched for peaks has {found} bins with power, and {needed} are needed: widen the band, or \
         record longer"
    )]
    TooFewBins { needed: usize, found: usize },
    /// The two channels of a cross spectrum are not cut into the same stretches.
    #[error("stretch {stretch} has {left} readings of one channel and {right} of the other")]
    UnequalStretches { stretch: usize, left: usize, right: usize },
}
