//! What is wrong with a description.

/// One thing that is wrong.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{key}: {sentence}")]
pub struct PlowFault {
    /// Dotted key, such as `tail_wheel.x`.
    pub key: String,
    /// What is wrong and what to do.
    pub sentence: String,
}

impl PlowFault {
    pub(super) fn at(key: impl Into<String>, sentence: impl Into<String>) -> Self {
        Self { key: key.into(), sentence: sentence.into() }
    }

    /// The same fault of a description that is a table of a larger document.
    pub(crate) fn within(self, table: &str) -> Self {
        Self { key: format!("{table}.{}", self.key), ..self }
    }
}
