//! Why the reading of a value stops.

use serde::de::{Error, Expected, Unexpected};
use std::fmt::{Display, Formatter};
use std::ops::Range;

/// Why it stops, and where once that is known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Stop {
    pub message: String,
    /// The key that is not there, within the table at `at`.
    pub missing: Option<&'static str>,
    /// Whether it is that of something that only stands in for a value.
    pub follows: bool,
    /// Place of the value, and where it stands in the text.
    pub at: Option<(String, Range<usize>)>,
}

impl Stop {
    pub fn saying(message: impl Into<String>) -> Self {
        Self { message: message.into(), missing: None, follows: false, at: None }
    }

    /// The same with its place, if it has none yet: the innermost is the one that is meant.
    pub fn at(mut self, place: &str, span: &Range<usize>) -> Self {
        self.at = self.at.or_else(|| Some((place.to_owned(), span.clone())));
        self
    }
}

impl Display for Stop {
    fn fmt(&self, f: &mut Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Stop {}

impl Error for Stop {
    fn custom<T: Display>(message: T) -> Self {
        Self::saying(message.to_string())
    }

    fn missing_field(field: &'static str) -> Self {
        Self { missing: Some(field), ..Self::saying("missing") }
    }

    fn invalid_type(_: Unexpected<'_>, wanted: &dyn Expected) -> Self {
        Self::saying(format!("write {wanted}"))
    }
}
