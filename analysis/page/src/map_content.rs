//! What a map of heights shows, in the reader's units.

/// The balance index over the heights of both pins.
#[derive(Clone, Debug, Default)]
pub struct MapContent {
    /// Plow, setting and pull.
    pub title: String,
    /// Unit of all heights.
    pub unit: String,
    /// Heights at the plow, rising.
    pub x: Vec<f64>,
    /// What pulls: "tractor".
    pub puller: String,
    /// Heights at the tractor, rising.
    pub y: Vec<f64>,
    /// Where both carriers keep enough load, one row for each height at the tractor.
    pub keeps: Vec<Vec<bool>>,
    /// What that means, for the key.
    pub kept_words: String,
    /// Levels of b that get a line.
    pub levels: Vec<Level>,
    /// All pairs of holes.
    pub holes: Vec<(f64, f64)>,
    /// The pair in use.
    pub now: (f64, f64),
    /// The pair that it is advised to move to.
    pub advised: Option<(f64, f64)>,
    /// What is to be done before hands go to the pins.
    pub caution: String,
}

/// A line of equal balance index.
#[derive(Clone, Debug)]
pub struct Level {
    /// b on it.
    pub index: f64,
    /// How far above it each point is, laid out as `keeps`; `None` where the plow cannot be.
    pub above: Vec<Vec<Option<f64>>>,
}
