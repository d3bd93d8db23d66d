//! Who may look on and who may control: tokens that are made at the start and shown to whoever stands at the recorder.

use std::fmt;
use std::hint::black_box;

/// What somebody may do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Right {
    /// See what is recorded.
    LookOn,
    /// Start, stop and mark as well.
    Control,
}

/// 128 random bits.
#[derive(Clone, PartialEq, Eq)]
pub struct Token(String);

// Not even a log line shows one by accident.
impl fmt::Debug for Token {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Token")
    }
}

impl Token {
    /// A new one.
    ///
    /// # Errors
    /// If the system has no random numbers.
    pub fn random() -> std::io::Result<Self> {
        let mut bytes = [0; 16];
        getrandom::fill(&mut bytes).map_err(std::io::Error::other)?;
        Ok(Self(bytes.iter().map(|byte| format!("{byte:02x}")).collect()))
    }

    /// The one that this text is; `None` if it is none.
    #[must_use]
    pub fn from_text(text: &str) -> Option<Self> {
        let is_hex = |byte: u8| byte.is_ascii_digit() || (b'a'..=b'f').contains(&byte);
        (text.len() == 32 && text.bytes().all(is_hex)).then(|| Self(text.to_owned()))
    }

    /// As it stands in a link.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.0
    }

    /// Whether this text is the token. How long that takes says nothing of how much of it was right.
    #[must_use]
    pub fn is(&self, text: &str) -> bool {
        let mut difference = u8::from(self.0.len() != text.len());
        for (own, given) in self.0.bytes().zip(text.bytes()) {
            difference = black_box(difference | (own ^ given));
        }
        difference == 0
    }
}

/// The two tokens of a server.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tokens {
    /// To start, stop and mark.
    pub control: Token,
    /// To look on.
    pub look_on: Token,
}

impl Tokens {
    /// New ones.
    ///
    /// # Errors
    /// As [`Token::random`].
    pub fn random() -> std::io::Result<Self> {
        Ok(Self { control: Token::random()?, look_on: Token::random()? })
    }

    /// What whoever shows this text may do; `None` if it is no token. Both are always looked at.
    #[must_use]
    pub fn right(&self, text: &str) -> Option<Right> {
        match (self.control.is(text), self.look_on.is(text)) {
            (true, _) => Some(Right::Control),
            (false, true) => Some(Right::LookOn),
            (false, false) => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_token_is_new_each_time_and_nothing_else_passes_for_it() {
        let (tokens, others) = (Tokens::random().unwrap(), Tokens::random().unwrap());
        assert_ne!(tokens, others);
        let (control, look_on) = (tokens.control.text(), tokens.look_on.text());
        assert!(control.len() == 32 && control.bytes().all(|byte| byte.is_ascii_hexdigit()), "{control}");
        assert_eq!(tokens.right(control), Some(Right::Control));
        assert_eq!(tokens.right(look_on), Some(Right::LookOn));
        for wrong in
            ["", &control[1..], &format!("{control}0"), others.control.text(), &control.to_uppercase()]
        {
            if wrong != control {
                assert_eq!(tokens.right(wrong), None, "{wrong}");
            }
        }
        assert!(!format!("{tokens:?}").contains(control));
        assert_eq!(Token::from_text(control).as_ref(), Some(&tokens.control));
        for no_token in ["", &control[1..], &format!("{control}0"), &"g".repeat(32), &"A".repeat(32)] {
            assert_eq!(Token::from_text(no_token), None, "{no_token}");
        }
    }
}
