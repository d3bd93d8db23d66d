//! The last so many answers, by what was asked.

use std::collections::VecDeque;
use std::sync::{Mutex, PoisonError};

/// At most so many answers; the oldest is forgotten first.
#[derive(Debug)]
pub(super) struct Remembered<K, V> {
    most: usize,
    answers: Mutex<VecDeque<(K, V)>>,
}

impl<K: PartialEq, V: Clone> Remembered<K, V> {
    pub fn at_most(most: usize) -> Self {
        Self { most, answers: Mutex::default() }
    }

    pub fn get(&self, key: &K) -> Option<V> {
        let answers = self.answers.lock().unwrap_or_else(PoisonError::into_inner);
        answers.iter().find(|(known, _)| known == key).map(|(_, answer)| answer.clone())
    }

    /// Puts an answer in the place of those that the key stands for, by `replaces`.
    pub fn put(&self, key: K, answer: V, replaces: impl Fn(&K) -> bool) {
        let mut answers = self.answers.lock().unwrap_or_else(PoisonError::into_inner);
        answers.retain(|(known, _)| !replaces(known));
        answers.push_back((key, answer));
        if answers.len() > self.most {
            answers.pop_front();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_oldest_is_forgotten() {
        let known = Remembered::at_most(2);
        for n in 0..3 {
            known.put(n, n * 10, |_| false);
        }
        assert_eq!([0, 1, 2].map(|n| known.get(&n)), [None, Some(10), Some(20)]);
        known.put(1, 11, |key| *key == 1);
        assert_eq!([1, 2].map(|n| known.get(&n)), [Some(11), Some(20)]);
    }
}
