//! What being in the ground means, and what ends a pass. All by choice, no source.

/// Depth and pull are smoothed over this long before they are compared, in s.
pub const SMOOTH_S: f64 = 0.5;
/// In the ground the plow is deeper than this share of the usual depth, and pulled harder than this share of the
/// pull that is usual in the ground.
pub const DEPTH_SHARE: f64 = 0.5;
/// See [`DEPTH_SHARE`].
pub const PULL_SHARE: f64 = 0.3;
/// Shallower than this is not plowing, in mm.
pub const DEPTH_MM_MIN: f64 = 20.0;
/// Seen out of the ground for less than this is a hop, not the end, in s.
pub const HOP_S: f64 = 1.5;
/// A gap up to this long, in the ground on both sides of it, does not end the working part: nobody lifts a
/// plow, turns and drops it again in so little time. In s.
pub const UNSEEN_S_MAX: f64 = 10.0;
/// Cut off each end: the plow is still finding its depth, or already leaving it. In s.
pub const TRIM_S: f64 = 2.0;
/// Shortest working part that can be judged, its ends trimmed: three periods of the slowest bobbing searched for (0.5 Hz). In s.
pub const WORKING_S_MIN: f64 = 6.0;

/// A run begins so long before it was asked for, or before the plow went in, in s.
pub const BEFORE_S: f64 = 5.0;
/// A run goes on for so long after the plow came out, in s.
pub const AFTER_S: f64 = 2.0;

/// A stretch in the ground, so far.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Its first moment, in s.
    pub from_s: f64,
    /// Its last moment so far, in s.
    pub to_s: f64,
}

impl Stretch {
    /// One that begins.
    #[must_use]
    pub fn at(t_s: f64) -> Self {
        Self { from_s: t_s, to_s: t_s }
    }

    /// Whether it is over when the plow has been seen out of the ground for so long since its last moment, in s.
    #[must_use]
    pub fn is_over(out_s: f64) -> bool {
        out_s >= HOP_S
    }

    /// Whether a moment in the ground belongs to it: after `out_s` seen out of the ground since its last one, and
    /// unseen for the rest, which may be longer where `unseen` says why.
    #[must_use]
    pub fn goes_on_at(&self, t_s: f64, out_s: f64, unseen: bool) -> bool {
        !Self::is_over(out_s) && (t_s - self.to_s - out_s < UNSEEN_S_MAX || unseen)
    }
}
