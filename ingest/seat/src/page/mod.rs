//! The page for the seat: plain files inside the program, no build step, nothing from elsewhere.

/// A file of the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PageFile {
    /// Where a browser asks for it.
    pub path: &'static str,
    /// What it is.
    pub content_type: &'static str,
    /// Its text.
    pub body: &'static str,
}

/// All files of the page, the page itself first.
pub const FILES: [PageFile; 2] = [
    PageFile { path: "/", content_type: "text/html; charset=utf-8", body: include_str!("index.html") },
    PageFile {
        path: "/seat.js",
        content_type: "text/javascript; charset=utf-8",
        body: include_str!("seat.js"),
    },
];
