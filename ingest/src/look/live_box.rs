//! A box that stays open and is asked for a stretch of its rows now and then.

use super::probe::{FIRST_ROW_PATIENCE, Line, Looking, Thing};
use super::{LookError, Sample};
use firmware_protocol::Hello;
use std::path::{Path, PathBuf};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};
use tokio::sync::{mpsc, oneshot};

/// A stretch of rows is wanted.
struct Wanted {
    lasts: Duration,
    answer: oneshot::Sender<Result<Sample, LookError>>,
}

/// A box whose rows are read all the time, so that each stretch begins when it is asked for. It is told to
/// stop when this is dropped.
#[derive(Debug)]
pub struct LiveBox {
    port: PathBuf,
    hello: Hello,
    orders: Option<mpsc::Sender<Wanted>>,
    thread: Option<JoinHandle<()>>,
}

impl LiveBox {
    /// Opens the port that a person named, waits for the box's hello and starts it.
    ///
    /// # Errors
    /// [`LookError`] says what is there instead.
    pub fn open(port: &Path, baud: u32) -> Result<Self, LookError> {
        let runtime =
            tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(LookError::System)?;
        let mut line = runtime.block_on(async { Line::open(port, baud) })?;
        let found = runtime.block_on(line.until_hello(true, Looking::at(baud).patience))?;
        let no_box = |thing: Thing| LookError::NoBox { port: port.to_owned(), thing: Box::new(thing) };
        let hello = match (found, line.ear.hello()) {
            (Some(thing), _) => return Err(no_box(thing)),
            (None, None) => return Err(no_box(Thing::NoHello)),
            (None, Some(hello)) => *hello,
        };
        let (orders, wanted) = mpsc::channel(1);
        let thread = std::thread::Builder::new()
            .name("live box".to_owned())
            .spawn(move || runtime.block_on(attend(line, wanted)))
            .map_err(LookError::System)?;
        Ok(Self { port: port.to_owned(), hello, orders: Some(orders), thread: Some(thread) })
    }

    /// What the box says of itself.
    #[must_use]
    pub fn hello(&self) -> &Hello {
        &self.hello
    }

    /// Its rows from now on for this long.
    ///
    /// # Errors
    /// [`LookError::Went`] if the port has gone, [`LookError::NoRows`] if none comes.
    pub fn take(&self, lasts: Duration) -> Result<Sample, LookError> {
        let gone = || LookError::Went { port: self.port.clone(), why: "it had gone before".to_owned() };
        let (answer, answered) = oneshot::channel();
        let orders = self.orders.as_ref().ok_or_else(gone)?;
        orders.blocking_send(Wanted { lasts, answer }).map_err(|_| gone())?;
        let sample = answered.blocking_recv().map_err(|_| gone())??;
        if sample.rows() == 0 { Err(LookError::NoRows { port: self.port.clone() }) } else { Ok(sample) }
    }
}

impl Drop for LiveBox {
    fn drop(&mut self) {
        // The thread ends when nobody can want anything any more, and stops the box before that.
        self.orders = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// Reads the box until nobody wants anything any more, or its port has gone.
async fn attend(mut line: Line, mut wanted: mpsc::Receiver<Wanted>) {
    if line.start().await.is_err() {
        return;
    }
    loop {
        // A box says something once a second at least.
        let idle = Instant::now() + Duration::from_secs(1);
        let ended = tokio::select! {
            heard = line.hear_until(idle) => heard,
            order = wanted.recv() => match order {
                None => {
                    let _ = line.stop().await;
                    return;
                }
                Some(Wanted { lasts, answer }) => {
                    let taken = stretch(&mut line, lasts).await;
                    // Whoever asked may have given up.
                    let _ = answer.send(taken);
                    Ok(())
                }
            },
        };
        if ended.is_err() {
            return;
        }
    }
}

/// Rows from now on for this long after the first of them.
async fn stretch(line: &mut Line, lasts: Duration) -> Result<Sample, LookError> {
    line.ear.begin();
    let mut end = Instant::now() + FIRST_ROW_PATIENCE;
    let mut first = false;
    while Instant::now() < end {
        line.hear_until(end).await?;
        if !first && line.ear.rows() > 0 {
            (first, end) = (true, Instant::now() + lasts);
        }
    }
    Ok(line.ear.end())
}
