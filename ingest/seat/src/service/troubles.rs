//! What is wrong now, of each kind one sentence: told in the log when it comes, changes or goes, and in the status as long
//! as it lasts.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// The same sentence is logged again after this long at the earliest, so that what comes and goes all day fills no log.
const AGAIN: Duration = Duration::from_secs(3600);
/// Sentences that are remembered for that.
const REMEMBERED_MAX: usize = 64;

/// What can be wrong beside the recording itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, strum::Display)]
#[strum(serialize_all = "kebab-case")]
pub enum TroubleKind {
    /// No run can be recorded: boxes that do not answer, a folder that cannot be written, and so on.
    Waiting,
    /// The last run could not begin, or not be written.
    Run,
    /// The plow description cannot be used.
    Plow,
    /// Runs cannot be repaired.
    Repair,
    /// Runs cannot be deleted, or may not be.
    Keeping,
    /// The page cannot be served.
    Page,
    /// The status file cannot be written.
    Status,
    /// What is chosen for the next run cannot be kept over a restart.
    Choice,
}

#[derive(Debug, Default)]
struct Inner {
    now: BTreeMap<TroubleKind, String>,
    logged: BTreeMap<(TroubleKind, String), Instant>,
}

/// What is wrong now.
#[derive(Debug, Default)]
pub struct Troubles(Mutex<Inner>);

impl Troubles {
    /// Something is wrong.
    pub fn set(&self, kind: TroubleKind, sentence: &str) {
        let mut inner = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let before = inner.now.insert(kind, sentence.to_owned());
        if before.as_deref() == Some(sentence) {
            return;
        }
        let now = Instant::now();
        if inner.logged.len() >= REMEMBERED_MAX {
            inner.logged.retain(|_, at| now.duration_since(*at) < AGAIN);
        }
        let key = (kind, sentence.to_owned());
        let is_new = inner.logged.get(&key).is_none_or(|at| now.duration_since(*at) >= AGAIN);
        if is_new && inner.logged.len() < REMEMBERED_MAX {
            inner.logged.insert(key, now);
            tracing::warn!(kind = %kind, text = sentence, "trouble");
        }
    }

    /// Nothing of a kind is wrong any more.
    pub fn clear(&self, kind: TroubleKind) {
        let mut inner = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if inner.now.remove(&kind).is_some() {
            tracing::info!(kind = %kind, "trouble is over");
        }
    }

    /// All that is wrong now.
    #[must_use]
    pub fn now(&self) -> Vec<(TroubleKind, String)> {
        let inner = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        inner.now.iter().map(|(kind, sentence)| (*kind, sentence.clone())).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_is_one_trouble_of_a_kind_until_it_is_over() {
        let troubles = Troubles::default();
        troubles.set(TroubleKind::Plow, "line 3");
        troubles.set(TroubleKind::Plow, "line 4");
        troubles.set(TroubleKind::Waiting, "no box");
        let expected = [(TroubleKind::Waiting, "no box"), (TroubleKind::Plow, "line 4")];
        assert_eq!(troubles.now(), expected.map(|(kind, text)| (kind, text.to_owned())));
        troubles.clear(TroubleKind::Plow);
        assert_eq!(troubles.now().len(), 1);
    }

    /// What names another time or number each second must not fill memory either.
    #[test]
    fn what_is_remembered_is_bounded() {
        let troubles = Troubles::default();
        (0..10_000).for_each(|number| troubles.set(TroubleKind::Waiting, &format!("number {number}")));
        assert!(troubles.0.lock().unwrap().logged.len() <= REMEMBERED_MAX);
    }
}
