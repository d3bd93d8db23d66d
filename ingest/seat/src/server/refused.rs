//! Why somebody is not let in.

use axum::http::StatusCode;

/// Why somebody is not let in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refused {
    /// We are not who was asked for.
    Host,
    /// Asked for by a page of somebody else.
    Origin,
    /// Without a token, or with a wrong one.
    Token,
}

impl Refused {
    /// The status of the answer.
    pub const fn status(self) -> StatusCode {
        match self {
            Self::Host => StatusCode::MISDIRECTED_REQUEST,
            Self::Origin => StatusCode::FORBIDDEN,
            Self::Token => StatusCode::UNAUTHORIZED,
        }
    }
}
