//! The handle that everybody has of the runs, and the thread behind it.

use super::desk::Desk;
use super::queue::{Outcome, Queue, Stop};
use super::{Analyst, RunsError};
use crate::live::{LastPass, Live};
use std::path::PathBuf;
use std::sync::Arc;
use std::thread::JoinHandle;
use tokio::sync::oneshot;

/// The runs of one folder. Cheap to clone; with the last one that is dropped the child ends, too.
#[derive(Clone, Debug)]
pub struct Runs(Arc<Handle>);

#[derive(Debug)]
struct Handle {
    desk: Arc<Desk>,
    queue: Arc<Queue>,
    worker: Option<JoinHandle<()>>,
}

impl Drop for Handle {
    fn drop(&mut self) {
        self.queue.end();
        if let Some(worker) = self.worker.take() {
            // It kills its child first, and a panic of it is nobody's any more.
            let _ = worker.join();
        }
    }
}

impl Runs {
    /// Of the folder that the recorder puts its runs in, worked out by this analyst; `tell` is told of the last pass
    /// each time that more is known of it, and must return at once.
    ///
    /// # Errors
    /// If the system gives no thread, or no folder for pages.
    pub fn new(
        out: PathBuf,
        analyst: Analyst,
        tell: impl Fn(LastPass) + Send + Sync + 'static,
    ) -> std::io::Result<Self> {
        let desk = Arc::new(Desk::new(out, analyst, Box::new(tell))?);
        let queue = Arc::new(Queue::default());
        let worker = {
            let queue = queue.clone();
            std::thread::Builder::new().name("analyst".to_owned()).spawn(move || queue.work())?
        };
        Ok(Self(Arc::new(Handle { desk, queue, worker: Some(worker) })))
    }

    /// Of the folder that the recorder puts its runs in, worked out by the `hitchwright` that stands beside this
    /// program; of the last pass all who look on are told, of that of the same day and plow before the first ends, too.
    ///
    /// # Errors
    /// As [`Runs::new`].
    pub fn shown_on(live: &Arc<Live>, out: PathBuf) -> std::io::Result<Self> {
        let (plow, live) = (live.plow().name.clone(), Arc::clone(live));
        let runs = Self::new(out, Analyst::find(), move |pass| live.set_last_pass(Some(pass)))?;
        // Whoever looks on goes on where the recorder was before it was started again.
        if runs.desk().analyst.is_there() {
            let now = jiff::Timestamp::now().to_zoned_datetime(jiff::tz::TimeZone::system());
            runs.take_up(&plow, &now.strftime("%Y-%m-%d").to_string());
        }
        Ok(runs)
    }

    /// What is to be told beforehand: that there will be no verdicts, if there is nothing to work them out.
    #[must_use]
    pub fn notice(&self) -> Option<String> {
        (!self.desk().analyst.is_there()).then(|| RunsError::NoAnalyst.to_string())
    }

    pub(super) fn desk(&self) -> &Arc<Desk> {
        &self.0.desk
    }

    pub(super) fn queue(&self) -> &Arc<Queue> {
        &self.0.queue
    }

    /// Has something worked out, behind what others asked for before.
    pub(super) async fn ask<T: Send + 'static>(
        &self,
        work: impl Fn(&Desk, &Stop<'_>) -> Result<T, RunsError> + Send + 'static,
    ) -> Result<T, RunsError> {
        let (answer, wait) = oneshot::channel();
        let (mut answer, desk) = (Some(answer), self.desk().clone());
        self.0.queue.push(move |stop| {
            if answer.as_ref().is_none_or(oneshot::Sender::is_closed) {
                return Outcome::Done;
            }
            match work(&desk, stop) {
                Err(RunsError::GaveWay) => return Outcome::GaveWay,
                done => answer.take().map(|answer| answer.send(done)),
            };
            Outcome::Done
        })?;
        wait.await.unwrap_or(Err(RunsError::Ended))
    }

    /// Reads what takes the disk a moment, on a thread that may wait for it.
    pub(super) async fn read<T: Send + 'static>(
        &self,
        read: impl FnOnce(&Desk) -> T + Send + 'static,
    ) -> Result<T, RunsError> {
        let desk = self.desk().clone();
        tokio::task::spawn_blocking(move || read(&desk)).await.map_err(|_| RunsError::Ended)
    }
}
