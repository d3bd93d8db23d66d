//! A box that stays open and is asked for a stretch of its rows now and then.

use super::port_session::PortSession;
use super::probe::ProbeConfig;
use super::{DiscoveryError, Sample};
use crate::session::StartUnasked;
use firmware_protocol::Hello;
use std::path::{Path, PathBuf};
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::sync::{mpsc, oneshot};
use tokio::time::Instant;

/// A stretch of rows is wanted.
struct Wanted {
    lasts: Duration,
    answer: oneshot::Sender<Result<Sample, DiscoveryError>>,
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
    /// [`DiscoveryError`] says what is there instead.
    pub fn open(port: &Path, baud: u32) -> Result<Self, DiscoveryError> {
        let runtime = crate::port::runtime().map_err(DiscoveryError::System)?;
        let mut session =
            runtime.block_on(async { PortSession::open(port, baud, StartUnasked::IfHeardOrSilent) })?;
        let hello = runtime
            .block_on(session.until_hello(ProbeConfig::at(baud).patience))?
            .map_err(|found| DiscoveryError::NoBox { port: port.to_owned(), found })?;
        let (orders, wanted) = mpsc::channel(1);
        let thread = std::thread::Builder::new()
            .name("live box".to_owned())
            .spawn(move || runtime.block_on(attend(session, wanted)))
            .map_err(DiscoveryError::System)?;
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
    /// [`DiscoveryError::Went`] if the port has gone, [`DiscoveryError::NoRows`] if none comes.
    pub fn take(&self, lasts: Duration) -> Result<Sample, DiscoveryError> {
        let gone = || DiscoveryError::Went { port: self.port.clone(), why: "it had gone before".to_owned() };
        let (answer, answered) = oneshot::channel();
        let orders = self.orders.as_ref().ok_or_else(gone)?;
        orders.blocking_send(Wanted { lasts, answer }).map_err(|_| gone())?;
        let sample = answered.blocking_recv().map_err(|_| gone())??;
        if sample.rows() == 0 { Err(DiscoveryError::NoRows(self.port.clone())) } else { Ok(sample) }
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
async fn attend(mut session: PortSession, mut wanted: mpsc::Receiver<Wanted>) {
    if session.start().await.is_err() {
        return;
    }
    loop {
        // A box says something once a second at least.
        let idle = Instant::now() + Duration::from_secs(1);
        let ended = tokio::select! {
            heard = session.hear_until(idle) => heard,
            order = wanted.recv() => match order {
                None => {
                    let _ = session.stop().await;
                    return;
                }
                Some(Wanted { lasts, answer }) => {
                    let taken = session.sample(lasts).await;
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
