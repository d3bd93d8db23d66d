//! What a box has done, while it runs and in the end.

use std::sync::atomic::{AtomicBool, AtomicU64};

use crate::plow::Truth;

/// What a box did.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct BoxReport {
    /// Rows that it sampled and numbered.
    pub rows_sampled: u64,
    /// Those of them that it gave to the line undamaged.
    pub rows_sent: u64,
    /// How often it was powered up.
    pub boots: u32,
    /// Truth of what was sampled; `None` if nothing of the working part was.
    pub truth: Option<Truth>,
}

/// What the thread of a box and its handle tell each other.
#[derive(Debug, Default)]
pub(super) struct Progress {
    pub(super) started: AtomicBool,
    pub(super) over: AtomicBool,
    pub(super) stop: AtomicBool,
    pub(super) rows: AtomicU64,
}
