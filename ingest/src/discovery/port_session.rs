//! An open port with the conversation on it, for as long as the port stays.

use super::listener::Listener;
use super::{DiscoveryError, Sample};
use crate::port::{OpenPort, PortLock, READ_BYTES, lock_name, open_port, send};
use crate::session::{Handshake, NotABox, Session, StartUnasked};
use firmware_protocol::Hello;
use std::path::{Path, PathBuf};
use std::time::Duration;
use tokio::io::AsyncReadExt;
use tokio::time::Instant;

/// After the start, the first row is waited for at most this long: boxes sample once a second at least.
const FIRST_ROW_PATIENCE: Duration = Duration::from_millis(1500);
/// Rows on their way after the stop are waited for this long, so that the box is not left with a full line.
const DRAIN: Duration = Duration::from_millis(100);

/// The port and what is heard on it.
pub(super) struct PortSession {
    port: PathBuf,
    open: OpenPort,
    // Held for its lock only.
    _lock: Option<PortLock>,
    listener: Listener,
    buffer: Vec<u8>,
    baud: u32,
}

impl PortSession {
    pub(super) fn open(port: &Path, baud: u32, unasked: StartUnasked) -> Result<Self, DiscoveryError> {
        let lock = lock_name(port)?;
        let open = open_port(port, baud)?;
        let listener = Listener::new(Session::new(unasked, Instant::now()));
        Ok(Self { port: port.to_owned(), open, _lock: lock, listener, buffer: vec![0; READ_BYTES], baud })
    }

    pub(super) fn handshake(&self) -> &Handshake {
        &self.listener.session.handshake
    }

    /// Listens until a hello has come; otherwise says what else is there.
    pub(super) async fn until_hello(
        &mut self,
        patience: Duration,
    ) -> Result<Result<Hello, NotABox>, DiscoveryError> {
        let end = Instant::now() + patience;
        while Instant::now() < end {
            self.hear_until(end).await?;
            match (&self.handshake().refusal, self.handshake().hello) {
                (Some(refusal), _) => return Ok(Err(NotABox::Refused(refusal.clone()))),
                (None, Some(hello)) => return Ok(Ok(hello)),
                (None, None) => {}
            }
        }
        if self.handshake().frames() > 0 {
            // It may have been told to start.
            self.stop().await?;
        }
        Ok(Err(NotABox::of(self.handshake(), self.baud)))
    }

    /// Says what is due, and takes bytes that come until then; returns after some have come, or at that time.
    pub(super) async fn hear_until(&mut self, end: Instant) -> Result<(), DiscoveryError> {
        self.say().await?;
        let session = &mut self.listener.session;
        let until = session.due().map_or(end, |due| due.min(end));
        let read = self.open.link.read(&mut self.buffer);
        match tokio::time::timeout_at(until, read).await {
            Err(_) => {}
            // 0 bytes never means "nothing yet".
            Ok(Ok(0)) => return Err(self.went("hung up".to_owned())),
            Ok(Ok(length)) => {
                // A read gives no more than the buffer holds.
                let bytes = self.buffer.get(..length).unwrap_or(&self.buffer);
                self.listener.take(bytes, Instant::now());
            }
            Ok(Err(error)) => return Err(self.went(error.to_string())),
        }
        self.say().await
    }

    /// Tells the box to start, and again whenever it begins anew.
    pub(super) async fn start(&mut self) -> Result<(), DiscoveryError> {
        self.listener.session.start(Instant::now());
        self.say().await
    }

    /// Rows from now on for this long after the first of them.
    pub(super) async fn sample(&mut self, lasts: Duration) -> Result<Sample, DiscoveryError> {
        self.listener.begin();
        let mut end = Instant::now() + FIRST_ROW_PATIENCE;
        let mut first = false;
        while Instant::now() < end {
            self.hear_until(end).await?;
            if !first && self.listener.rows() > 0 {
                (first, end) = (true, Instant::now() + lasts);
            }
        }
        Ok(self.listener.end())
    }

    /// Tells the box to stop, and takes what is still on its way.
    pub(super) async fn stop(&mut self) -> Result<(), DiscoveryError> {
        self.listener.session.stop();
        self.say().await?;
        let end = Instant::now() + DRAIN;
        while Instant::now() < end {
            self.hear_until(end).await?;
        }
        Ok(())
    }

    async fn say(&mut self) -> Result<(), DiscoveryError> {
        while let Some(frame) = self.listener.session.say(Instant::now()) {
            let form = self.listener.session.form();
            send(&mut *self.open.link, &frame, form).await.map_err(|why| self.went(why))?;
        }
        Ok(())
    }

    fn went(&self, why: String) -> DiscoveryError {
        DiscoveryError::Went { port: self.port.clone(), why }
    }
}
