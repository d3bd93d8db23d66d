//! Why somebody is not let in.

use axum::body::Body;
use axum::http::header::ACCEPT;
use axum::http::{HeaderMap, Method, StatusCode};
use axum::response::{Html, IntoResponse, Response};

/// What a person gets to see who comes by a link of before. Nothing of what was asked stands in it. Its letters are large by an
/// old element: the policy refuses a style in the page, and whoever has no token gets no style sheet.
pub const OLD_LINK: &str = "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\">\
    <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><meta name=\"color-scheme\" content=\"light dark\">\
    <title>Recorder: this link does not open it</title><font size=\"5\"><h1>This link does not open the recorder</h1>\
    <p>It is of an earlier start of the recorder, or a part of it is missing.</p>\
    <p>The links that open it are shown by the computer that records:</p><ul>\
    <li>Started by hand, it printed them at its start; in its panel the key L shows them.</li>\
    <li>Unattended, it keeps them: <code>sudo hitchwright-recorder links</code> prints them there.</li></ul>\
    <p>Ask whoever stands at that computer to show you one.</p></font></html>";

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
    const fn status(self) -> StatusCode {
        match self {
            Self::Host => StatusCode::MISDIRECTED_REQUEST,
            Self::Origin => StatusCode::FORBIDDEN,
            Self::Token => StatusCode::UNAUTHORIZED,
        }
    }

    /// The answer: empty, but for a person before a browser whose link is not the one.
    pub fn answer(self, method: &Method, headers: &HeaderMap) -> Response {
        let accepted = headers.get_all(ACCEPT).iter().filter_map(|value| value.to_str().ok());
        let is_page = *method == Method::GET
            && accepted.flat_map(|value| value.split(',')).any(|kind| kind.trim().starts_with("text/html"));
        match self {
            Self::Token if is_page => (self.status(), Html(OLD_LINK)).into_response(),
            _ => (self.status(), Body::empty()).into_response(),
        }
    }
}
