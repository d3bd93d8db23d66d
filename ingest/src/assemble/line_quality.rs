//! Whether the line to the box is usable at all.

use firmware_protocol::Counters;

/// How long a stretch of line is judged by its damaged frames, in µs.
const WINDOW_US: u64 = 2_000_000;
/// Fewer damaged frames than this in a window say nothing.
const BAD_MIN: u64 = 10;

#[derive(Clone, Copy, Debug, Default)]
pub(super) struct LineQuality {
    from_us: u64,
    frames: u64,
    damaged: u64,
    is_bad: bool,
}

/// The line has become bad, or good again: frames of the window that shows it.
#[derive(Clone, Copy, Debug)]
pub(super) struct LineChange {
    pub is_bad: bool,
    pub frames: u64,
    pub damaged: u64,
}

impl LineQuality {
    /// Says once when a window holds more damaged than good frames, and once when that is over.
    pub(super) fn judge(&mut self, host_us: u64, now: Counters) -> Option<LineChange> {
        if host_us.saturating_sub(self.from_us) < WINDOW_US {
            return None;
        }
        let (frames, damaged) = (now.frames - self.frames, now.damaged() - self.damaged);
        let is_bad = damaged >= BAD_MIN && damaged > frames;
        let change = (is_bad != self.is_bad && (is_bad || frames > 0)).then_some(LineChange {
            is_bad,
            frames,
            damaged,
        });
        let is_bad = if change.is_some() { is_bad } else { self.is_bad };
        *self = Self { from_us: host_us, frames: now.frames, damaged: now.damaged(), is_bad };
        change
    }
}
