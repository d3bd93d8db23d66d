//! What is to be worked out, one thing after another: the verdict of the pass that has just ended before all else.

use super::RunsError;
use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// How many questions wait at most.
const WAITING_MAX: usize = 16;

/// What became of a piece of work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Outcome {
    /// It is done, one way or another.
    Done,
    /// It was broken off for something urgent, and is to be done after it.
    GaveWay,
}

type Work = Box<dyn FnMut(&Stop<'_>) -> Outcome + Send>;

/// The work that waits.
#[derive(Default)]
pub(super) struct Queue {
    state: Mutex<State>,
    changed: Condvar,
}

#[derive(Default)]
struct State {
    urgent: VecDeque<Work>,
    waiting: VecDeque<Work>,
    ended: bool,
}

impl std::fmt::Debug for Queue {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let state = self.state();
        f.debug_struct("Queue")
            .field("urgent", &state.urgent.len())
            .field("waiting", &state.waiting.len())
            .field("ended", &state.ended)
            .finish()
    }
}

/// Tells a piece of work when it has to break off.
pub(super) struct Stop<'a> {
    queue: &'a Queue,
    is_urgent: bool,
}

impl Stop<'_> {
    /// Whether nothing goes before it.
    pub const fn is_urgent(&self) -> bool {
        self.is_urgent
    }

    /// Why it has to break off now, if it has to.
    pub fn reason(&self) -> Option<RunsError> {
        let state = self.queue.state();
        let gives_way = !self.is_urgent && !state.urgent.is_empty();
        state.ended.then_some(RunsError::Ended).or_else(|| gives_way.then_some(RunsError::GaveWay))
    }
}

impl Queue {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Puts work behind what waits.
    ///
    /// # Errors
    /// [`RunsError::Busy`] if too much waits, [`RunsError::Ended`].
    pub fn push(&self, work: impl FnMut(&Stop<'_>) -> Outcome + Send + 'static) -> Result<(), RunsError> {
        let mut state = self.state();
        if state.ended {
            return Err(RunsError::Ended);
        }
        if state.waiting.len() >= WAITING_MAX {
            return Err(RunsError::Busy);
        }
        state.waiting.push_back(Box::new(work));
        self.changed.notify_one();
        Ok(())
    }

    /// Puts work before all that waits; what is being worked out is broken off for it. Of urgent work only the latest
    /// is kept: it is of the last pass.
    pub fn push_urgent(&self, work: impl FnMut(&Stop<'_>) -> Outcome + Send + 'static) {
        let mut state = self.state();
        state.urgent.clear();
        state.urgent.push_back(Box::new(work));
        self.changed.notify_one();
    }

    /// Everything ends: what runs is broken off, what waits is dropped.
    pub fn end(&self) {
        let mut state = self.state();
        state.ended = true;
        state.urgent.clear();
        state.waiting.clear();
        self.changed.notify_all();
    }

    /// Does the work until the end.
    pub fn work(&self) {
        while let Some((mut work, is_urgent)) = self.next() {
            let stop = Stop { queue: self, is_urgent };
            // A fault in one answer must not be the end of all others.
            let outcome = catch_unwind(AssertUnwindSafe(|| work(&stop))).unwrap_or(Outcome::Done);
            let mut state = self.state();
            if outcome == Outcome::GaveWay && !state.ended {
                state.waiting.push_front(work);
            }
        }
    }

    fn next(&self) -> Option<(Work, bool)> {
        let mut state = self.state();
        loop {
            if state.ended {
                return None;
            }
            if let Some(work) = state.urgent.pop_front() {
                return Some((work, true));
            }
            if let Some(work) = state.waiting.pop_front() {
                return Some((work, false));
            }
            state = self.changed.wait(state).unwrap_or_else(PoisonError::into_inner);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc;

    #[test]
    fn the_urgent_comes_first_and_what_gave_way_is_done_after_it() {
        let queue = Queue::default();
        let (tell, told) = mpsc::channel();
        let say = |what: &'static str, tell: &mpsc::Sender<&'static str>| {
            let tell = tell.clone();
            move |_: &Stop<'_>| {
                let _ = tell.send(what);
                Outcome::Done
            }
        };
        let (slow, began) = (tell.clone(), std::sync::Arc::new(std::sync::Barrier::new(2)));
        let mut first_time = true;
        let meet = began.clone();
        queue
            .push(move |stop| {
                if std::mem::take(&mut first_time) {
                    meet.wait();
                    while stop.reason().is_none() {
                        std::thread::yield_now();
                    }
                    assert_eq!(stop.reason(), Some(RunsError::GaveWay));
                    let _ = slow.send("gave way");
                    return Outcome::GaveWay;
                }
                let _ = slow.send("done after all");
                Outcome::Done
            })
            .unwrap();
        std::thread::scope(|scope| {
            scope.spawn(|| queue.work());
            began.wait();
            queue.push(say("last", &tell)).unwrap();
            queue.push(|_| panic!("a fault in an answer")).unwrap();
            queue.push(say("after the fault", &tell)).unwrap();
            queue.push_urgent(say("urgent", &tell));
            let said: Vec<_> = told.iter().take(5).collect();
            assert_eq!(said, ["gave way", "urgent", "done after all", "last", "after the fault"]);
            queue.end();
        });
        assert_eq!(queue.push(|_| Outcome::Done), Err(RunsError::Ended));
    }

    #[test]
    fn only_so_much_waits() {
        let queue = Queue::default();
        for _ in 0..WAITING_MAX {
            queue.push(|_| Outcome::Done).unwrap();
        }
        assert_eq!(queue.push(|_| Outcome::Done), Err(RunsError::Busy));
        queue.push_urgent(|_| Outcome::Done);
    }
}
