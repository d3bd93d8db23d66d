//! Which files describe something.

/// What a file describes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DescriptionKind {
    /// A plow: `plow.toml`.
    Plow,
    /// A run: `run.toml`, and the files beside it.
    Run,
    /// What a recorder that runs by itself does: `recorder.toml`.
    Recorder,
}

impl DescriptionKind {
    /// Its name, and a bound on the size of its file: nesting and length of what comes from outside have one.
    pub(super) const fn facts(self) -> (&'static str, u64) {
        match self {
            Self::Plow => ("plow", 256 * 1024),
            Self::Run => ("run", 1024 * 1024),
            Self::Recorder => ("recorder", 64 * 1024),
        }
    }
}
