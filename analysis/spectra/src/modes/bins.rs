//! What modes are fitted to.

/// What the modes are fitted to: bins of a Welch spectrum, and what the search for peaks made of them.
#[derive(Clone, Copy, Debug)]
pub struct Bins<'a> {
    /// Frequency of each bin, Hz, rising.
    pub frequency_hz: &'a [f64],
    /// Density, unit²/Hz.
    pub density: &'a [f64],
    /// Background, to start from, unit²/Hz.
    pub background: &'a [f64],
    /// Whether a bin counts; those at a line (a wheel's turn) do not.
    pub used: &'a [bool],
    /// Distance between bins, Hz.
    pub bin_hz: f64,
    /// Equivalent χ² degrees of freedom of a bin.
    pub dof: f64,
    /// Time from the front wheels to the tail wheel.
    pub delay: Delay,
}

/// What is known of the time from the front wheels to the tail wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Delay {
    /// Nothing: one of the wheels is missing.
    Unknown,
    /// s, where speed and wheelbase are known.
    Known(f64),
    /// Shortest and longest, s, where the wheelbase is known and the speed is not.
    Within(f64, f64),
}
