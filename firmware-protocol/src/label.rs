//! Short texts on the wire: printable ASCII of bounded length.

use core::fmt;

/// A text of at most `N` bytes of printable ASCII (0x20 to 0x7E), kept in place.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Label<const N: usize> {
    bytes: [u8; N],
    len: u8,
}

/// Why a text cannot be a [`Label`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "names of fields say what they are")]
pub enum LabelError {
    /// More than `max` bytes.
    TooLong { max: usize },
    /// A byte that is not printable ASCII.
    NotPrintable { byte: u8 },
}

impl fmt::Display for LabelError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::TooLong { max } => write!(f, "longer than {max} bytes"),
            Self::NotPrintable { byte } => write!(f, "byte 0x{byte:02X} is not printable ASCII"),
        }
    }
}

impl core::error::Error for LabelError {}

impl<const N: usize> Label<N> {
    /// A label of these bytes.
    ///
    /// # Errors
    /// [`LabelError`] if they are too many or not printable ASCII.
    pub fn from_bytes(text: &[u8]) -> Result<Self, LabelError> {
        let len = u8::try_from(text.len()).map_err(|_| LabelError::TooLong { max: N })?;
        let mut bytes = [0u8; N];
        let room = bytes.get_mut(..text.len()).ok_or(LabelError::TooLong { max: N })?;
        if let Some(&byte) = text.iter().find(|b| !(0x20..=0x7E).contains(*b)) {
            return Err(LabelError::NotPrintable { byte });
        }
        room.copy_from_slice(text);
        Ok(Self { bytes, len })
    }

    /// A label of this text.
    ///
    /// # Errors
    /// [`LabelError`] if it is too long or not printable ASCII.
    pub fn new(text: &str) -> Result<Self, LabelError> {
        Self::from_bytes(text.as_bytes())
    }

    /// How many bytes it has.
    pub(crate) fn length(&self) -> u8 {
        self.len
    }

    /// The text's bytes.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8] {
        self.bytes.get(..usize::from(self.len)).unwrap_or(&[])
    }

    /// The text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        // Only printable ASCII gets in, which is UTF-8.
        core::str::from_utf8(self.as_bytes()).unwrap_or("")
    }
}

impl<const N: usize> Default for Label<N> {
    fn default() -> Self {
        Self { bytes: [0; N], len: 0 }
    }
}

impl<const N: usize> fmt::Debug for Label<N> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(self.as_str(), f)
    }
}

impl<const N: usize> fmt::Display for Label<N> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}
