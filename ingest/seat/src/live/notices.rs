//! What there is to know, in lines: the last ones, each with its number.

use super::snapshot::NoticeLine;
use std::collections::VecDeque;

/// Notices that are kept.
const KEPT: usize = 20;
/// Characters of a notice that are kept.
const CHARACTERS: usize = 400;

/// The last notices.
#[derive(Debug, Default)]
pub(super) struct Notices {
    last: VecDeque<NoticeLine>,
    count: u64,
}

impl Notices {
    /// Takes in one that is said at this live time, s.
    pub fn push(&mut self, line: &str, t_s: f64) {
        self.count += 1;
        if self.last.len() >= KEPT {
            self.last.pop_front();
        }
        let text = line.chars().take(CHARACTERS).collect();
        self.last.push_back(NoticeLine { number: self.count, t_s, text });
    }

    /// Those after this number, of those that are kept.
    pub fn after(&self, number: u64) -> Vec<NoticeLine> {
        self.last.iter().filter(|notice| notice.number > number).cloned().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notices_are_the_last_ones_and_none_is_endless() {
        let mut notices = Notices::default();
        for number in 1..=50 {
            notices.push(&format!("{number} {}", "x".repeat(1000)), 0.0);
        }
        let kept = notices.after(0);
        assert_eq!((kept.len(), kept[0].number, kept[19].number), (20, 31, 50));
        assert!(kept.iter().all(|notice| notice.text.chars().count() == CHARACTERS));
        assert_eq!(notices.after(48).len(), 2);
    }
}
