//! What the recorder's loop tells, put where all can read it.

use super::Live;
use ingest::recorder::{BegunRun, LiveRows, Order, PassChoice, Progress, RecordError, RecordedRun, View};
use std::sync::Arc;

/// Keeps [`Live`] up to date.
#[derive(Clone, Debug)]
pub struct LiveView(Arc<Live>);

impl LiveView {
    /// Of a recording that others read from the same [`Live`].
    #[must_use]
    pub fn new(live: Arc<Live>) -> Self {
        Self(live)
    }
}

impl View for LiveView {
    fn stands_by(&mut self) {
        self.0.stands_by();
    }

    fn chosen(&mut self, next: &PassChoice, _: bool) {
        self.0.chosen(next);
    }

    fn began(&mut self, run: &BegunRun) {
        self.0.began(run);
    }

    fn readings(&mut self, rows: &LiveRows<'_>) {
        self.0.readings(rows);
    }

    fn progress(&mut self, progress: &Progress) {
        self.0.progress(progress);
    }

    fn notice(&mut self, line: &str) {
        self.0.notice(line, false);
    }

    fn warning(&mut self, line: &str) {
        self.0.notice(line, true);
    }

    fn not_done(&mut self, order: Order, why: &str) {
        self.0.not_done(order, why);
    }

    fn ended(&mut self, run: &Result<RecordedRun, RecordError>) {
        self.0.ended(run);
    }
}

/// Several views of one recording.
#[derive(Default)]
pub struct Views(Vec<Box<dyn View>>);

impl std::fmt::Debug for Views {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("Views").field(&self.0.len()).finish()
    }
}

impl Views {
    /// With one more.
    #[must_use]
    pub fn and(mut self, view: impl View + 'static) -> Self {
        self.0.push(Box::new(view));
        self
    }
}

impl View for Views {
    fn stands_by(&mut self) {
        self.0.iter_mut().for_each(|view| view.stands_by());
    }

    fn chosen(&mut self, next: &PassChoice, by_person: bool) {
        self.0.iter_mut().for_each(|view| view.chosen(next, by_person));
    }

    fn began(&mut self, run: &BegunRun) {
        self.0.iter_mut().for_each(|view| view.began(run));
    }

    fn readings(&mut self, rows: &LiveRows<'_>) {
        self.0.iter_mut().for_each(|view| view.readings(rows));
    }

    fn progress(&mut self, progress: &Progress) {
        self.0.iter_mut().for_each(|view| view.progress(progress));
    }

    fn notice(&mut self, line: &str) {
        self.0.iter_mut().for_each(|view| view.notice(line));
    }

    fn warning(&mut self, line: &str) {
        self.0.iter_mut().for_each(|view| view.warning(line));
    }

    fn not_done(&mut self, order: Order, why: &str) {
        self.0.iter_mut().for_each(|view| view.not_done(order, why));
    }

    fn ended(&mut self, run: &Result<RecordedRun, RecordError>) {
        self.0.iter_mut().for_each(|view| view.ended(run));
    }
}
