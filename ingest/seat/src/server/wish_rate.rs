//! How many wishes are taken: nobody presses a button more often.

use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Wishes that may come at once.
const AT_ONCE: u32 = 5;
/// One more each.
const EVERY: Duration = Duration::from_millis(200);

/// Room for wishes, which comes back with time.
#[derive(Debug)]
pub struct WishRate(Mutex<(u32, Instant)>);

impl Default for WishRate {
    fn default() -> Self {
        Self(Mutex::new((AT_ONCE, Instant::now())))
    }
}

impl WishRate {
    /// Whether there is room for one more wish, which is taken.
    pub fn has_room(&self) -> bool {
        self.has_room_at(Instant::now())
    }

    fn has_room_at(&self, now: Instant) -> bool {
        let mut state = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let (room, since) = *state;
        let passed = now.saturating_duration_since(since).as_millis() / EVERY.as_millis();
        let back = u32::try_from(passed).unwrap_or(u32::MAX);
        let room = room.saturating_add(back).min(AT_ONCE);
        // What is left of a step counts for the next, unless all room was there.
        let since = if room == AT_ONCE { now } else { since + EVERY * back };
        *state = (room.saturating_sub(1), since);
        room > 0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn five_at_once_and_then_five_a_second() {
        let rate = WishRate::default();
        let begin = Instant::now();
        let taken_at_once = (0..100).filter(|_| rate.has_room_at(begin)).count();
        assert_eq!(taken_at_once, 5);
        let taken = (0..10_000).filter(|n| rate.has_room_at(begin + Duration::from_millis(*n))).count();
        assert!((49..=51).contains(&taken), "{taken} in ten seconds");
        assert!(rate.has_room_at(begin + Duration::from_secs(1_000_000)));
    }
}
