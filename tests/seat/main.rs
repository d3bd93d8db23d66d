//! The page for the seat in a real browser: a virtual box on a pseudo-terminal, the real recorder with its page, and
//! Debian's Chromium. Run by hand and by `.ci/run`, for they need that browser.

mod browser;
mod by_plow;
mod latency;
mod live;
mod looks;
mod rig;
mod runs;
