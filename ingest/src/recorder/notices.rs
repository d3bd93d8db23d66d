//! Notices to the operator, a few a second.

use super::View;
use std::time::Duration;
use tokio::time::Instant;

/// Notices shown in one second; the rest is counted.
const NOTICES_PER_S: u32 = 5;

/// Limits the flood of notices of a bad line.
pub struct Notices {
    second: Instant,
    shown: u32,
    held_back: u32,
}

impl Notices {
    /// None shown so far.
    pub fn new() -> Self {
        Self { second: Instant::now(), shown: 0, held_back: 0 }
    }

    /// Shows a notice, or counts it if there were too many.
    pub fn show(&mut self, view: &mut dyn View, line: &str) {
        self.tick(view);
        if self.shown < NOTICES_PER_S {
            self.shown += 1;
            view.notice(line);
        } else {
            self.held_back += 1;
        }
    }

    /// Says how many were held back once their second is over.
    pub fn tick(&mut self, view: &mut dyn View) {
        if self.second.elapsed() >= Duration::from_secs(1) {
            if self.held_back > 0 {
                view.notice(&format!("{} more notices of this kind", self.held_back));
            }
            *self = Self::new();
        }
    }
}
