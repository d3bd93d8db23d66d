//! What the server counts of itself.

use super::refused::Refused;
use std::sync::atomic::{AtomicU64, Ordering};

/// Counters and what goes on now.
#[derive(Debug, Default)]
pub struct Counts {
    /// Connections open now.
    pub connections: AtomicU64,
    /// Connections that had to make room for others.
    pub connections_dropped: AtomicU64,
    /// Viewers now.
    pub viewers: AtomicU64,
    /// Viewers that did not keep up and were dropped.
    pub viewers_dropped: AtomicU64,
    /// Viewers too many.
    pub viewers_refused: AtomicU64,
    /// Wishes passed on.
    pub wishes: AtomicU64,
    /// Requests under a name that is not ours.
    pub hosts_refused: AtomicU64,
    /// Requests from pages of others.
    pub origins_refused: AtomicU64,
    /// Requests without a token, or with a wrong one.
    pub tokens_refused: AtomicU64,
}

/// One more.
pub fn one_more(counter: &AtomicU64) {
    counter.fetch_add(1, Ordering::Relaxed);
}

impl Counts {
    /// Counts a request that was not let in.
    pub fn refused(&self, refused: Refused) {
        one_more(match refused {
            Refused::Host => &self.hosts_refused,
            Refused::Origin => &self.origins_refused,
            Refused::Token => &self.tokens_refused,
        });
    }
}
