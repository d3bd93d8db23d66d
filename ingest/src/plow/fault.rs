//! What is wrong with a description.

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PlowFault {
    /// Dotted key, such as `tail_wheel.x`.
    pub key: String,
    /// What is wrong and what to do.
    pub sentence: String,
}

impl std::fmt::Display for PlowFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.key, self.sentence)
    }
}

impl std::error::Error for PlowFault {}
