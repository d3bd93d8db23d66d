//! Whether the line to the box is usable at all.

use super::{Assembler, EventKind};

/// How long a stretch of line is judged by its damaged frames, in µs.
const LINE_WINDOW_US: u64 = 2_000_000;
/// Fewer damaged frames than this in a window say nothing.
const LINE_BAD_MIN: u64 = 10;

/// Line quality in the current window.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct LineWindow {
    from_us: u64,
    frames: u64,
    damaged: u64,
    bad: bool,
}

impl Assembler {
    /// Says once when a window holds more damaged than good frames, and once when that is over.
    pub(super) fn judge_line(&mut self, host_us: u64) {
        if host_us.saturating_sub(self.line.from_us) < LINE_WINDOW_US {
            return;
        }
        let now = self.decoder.counters();
        let (frames, damaged) = (now.frames - self.line.frames, now.damaged() - self.line.damaged);
        let bad = damaged >= LINE_BAD_MIN && damaged > frames;
        if bad != self.line.bad && (bad || frames > 0) {
            let kind = if bad { EventKind::LineBad } else { EventKind::LineGood };
            self.at_host(host_us, kind, format!("damaged={damaged}; good={frames}"));
            self.line.bad = bad;
        }
        let bad = self.line.bad;
        self.line = LineWindow { from_us: host_us, frames: now.frames, damaged: now.damaged(), bad };
    }
}
