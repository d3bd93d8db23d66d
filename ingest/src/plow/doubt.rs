//! A doubt about a description, as data.

/// What is possible in a description but unusual.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Doubt {
    /// Dotted keys of the entries concerned; the first is the one to check.
    pub keys: Vec<String>,
    /// The entry as a sentence names it: `a width of cut of 28 in`.
    pub entry: String,
    /// What is unusual in it, and what it may be.
    pub sentence: String,
}

impl Doubt {
    pub(super) fn of(keys: &[&str], entry: String, sentence: String) -> Self {
        Self { keys: keys.iter().map(|key| (*key).to_owned()).collect(), entry, sentence }
    }

    /// Key of the entry to check.
    #[must_use]
    pub fn key(&self) -> &str {
        self.keys.first().map_or("", String::as_str)
    }
}
