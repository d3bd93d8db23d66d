//! Listening to one port, or to several at the same time, for as long as it takes to know.

use super::LookError;
use super::ear::Ear;
use super::sample::Sample;
use crate::assemble::BoxRefusal;
use crate::port::{Link, OpenPort, PortLock, lock_name, open_port, send};
use firmware_protocol::{Form, Frame, Hello, Status};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use tokio::io::AsyncReadExt;

/// A box that is running already says no hello by itself; after this long it is told to start, which it
/// answers with one. Boards that reset when their port is opened have not finished that much earlier.
const START_UNASKED: Duration = Duration::from_millis(1300);
/// After the start, the first row is waited for at most this long: boxes sample once a second at least.
pub(super) const FIRST_ROW_PATIENCE: Duration = Duration::from_millis(1500);
/// A hello unasked says that the box has begun anew and waits for a start; one that comes this soon after a
/// start is the answer to it.
const START_AGAIN: Duration = Duration::from_millis(700);
/// Rows on their way after the stop are waited for this long, so that the box is not left with a full line.
const DRAIN: Duration = Duration::from_millis(100);
/// Bytes that one read may bring.
const READ_BYTES: usize = 16 * 1024;

/// How to look at a port.
#[derive(Clone, Copy, Debug)]
pub struct Looking {
    /// Speed in baud.
    pub baud: u32,
    /// A box must have said hello by then.
    pub patience: Duration,
    /// How long its rows are then listened to.
    pub listen: Duration,
}

impl Looking {
    /// Three seconds for a hello, which boards that reset on opening need two of, and one of rows.
    #[must_use]
    pub fn at(baud: u32) -> Self {
        Self { baud, patience: Duration::from_secs(3), listen: Duration::from_secs(1) }
    }
}

/// What is on a port.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Thing {
    /// Nothing arrives.
    #[error("nothing arrives: is the sensor box switched on, and is this its port?")]
    Silent,
    /// Something that is no sensor box.
    #[error("bytes arrive but no frame of a sensor box: {hint}")]
    Other {
        /// It is a GNSS receiver.
        is_gnss: bool,
        /// What may be wrong.
        hint: String,
    },
    /// Frames of a box, but no hello.
    #[error(
        "frames of a sensor box, but no hello, even after a start: is its line towards the box connected?"
    )]
    NoHello,
    /// A box that cannot be used.
    #[error(transparent)]
    Refused(BoxRefusal),
    /// A box.
    #[error("a sensor box")]
    Box(Box<SeenBox>),
}

/// A box that was listened to.
#[derive(Clone, Debug, PartialEq)]
pub struct SeenBox {
    /// What it says of itself.
    pub hello: Hello,
    /// Whether it sends frames or prints sentences.
    pub form: Option<Form>,
    /// Its last status, if one came.
    pub status: Option<Status>,
    /// Its rows.
    pub sample: Sample,
}

/// Looks at several ports at the same time; what came of each, in their order. A port that the person
/// named (`true`) is told to start if it stays silent.
///
/// # Errors
/// [`LookError::System`] if the computer gives no timer; what is wrong with one port is in its place.
pub fn look_at_all(
    ports: &[(PathBuf, bool)],
    looking: Looking,
) -> Result<Vec<Result<Thing, LookError>>, LookError> {
    let runtime =
        tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(LookError::System)?;
    Ok(runtime.block_on(async {
        let looks: Vec<_> = ports
            .iter()
            .cloned()
            .map(|(port, named)| tokio::spawn(async move { look_at(&port, named, looking).await }))
            .collect();
        let mut seen = Vec::new();
        for look in looks {
            seen.push(match look.await {
                Ok(seen) => seen,
                Err(error) => Err(LookError::System(std::io::Error::other(error))),
            });
        }
        seen
    }))
}

/// Looks at one port.
///
/// # Errors
/// [`LookError::Port`] or [`LookError::Went`].
pub async fn look_at(port: &Path, named: bool, looking: Looking) -> Result<Thing, LookError> {
    let mut line = Line::open(port, looking.baud)?;
    if let Some(thing) = line.until_hello(named, looking.patience).await? {
        return Ok(thing);
    }
    line.start().await?;
    line.ear.begin();
    let begun = Instant::now();
    let mut end = begun + FIRST_ROW_PATIENCE;
    let mut first = false;
    while Instant::now() < end {
        line.hear_until(end).await?;
        if !first && line.ear.rows() > 0 {
            (first, end) = (true, Instant::now() + looking.listen);
        }
    }
    let sample = line.ear.end();
    line.stop().await?;
    let ear = &line.ear;
    Ok(match (ear.hello().copied(), ear.refusal()) {
        (_, Some(refusal)) => Thing::Refused(refusal.clone()),
        (Some(hello), None) => {
            Thing::Box(Box::new(SeenBox { hello, form: ear.form(), status: ear.status(), sample }))
        }
        (None, None) => Thing::NoHello,
    })
}

/// An open port with the ear on it.
pub(super) struct Line {
    port: PathBuf,
    open: OpenPort,
    // Held for its lock only.
    _lock: Option<PortLock>,
    pub(super) ear: Ear,
    buffer: Vec<u8>,
    baud: u32,
    /// When the box was last told to start, and how many hellos had come.
    started: Option<(Instant, u64)>,
}

impl Line {
    pub(super) fn open(port: &Path, baud: u32) -> Result<Self, LookError> {
        let lock = lock_name(port)?;
        let open = open_port(port, baud)?;
        let buffer = vec![0; READ_BYTES];
        Ok(Self {
            port: port.to_owned(),
            open,
            _lock: lock,
            ear: Ear::default(),
            buffer,
            baud,
            started: None,
        })
    }

    /// Listens until a hello has come; otherwise says what else is there.
    pub(super) async fn until_hello(
        &mut self,
        named: bool,
        patience: Duration,
    ) -> Result<Option<Thing>, LookError> {
        let begun = Instant::now();
        let mut asked = false;
        while begun.elapsed() < patience {
            let next = if asked { patience } else { START_UNASKED.min(patience) };
            self.hear_until(begun + next).await?;
            if let Some(refusal) = self.ear.refusal() {
                return Ok(Some(Thing::Refused(refusal.clone())));
            }
            if self.ear.hello().is_some() {
                return Ok(None);
            }
            let ours = self.ear.frames() > 0 || (named && self.ear.bytes() == 0);
            if !asked && begun.elapsed() >= START_UNASKED {
                asked = true;
                if ours {
                    self.order(&Frame::Start).await?;
                }
            }
        }
        if self.ear.frames() > 0 {
            // It may have been told to start.
            self.stop().await?;
        }
        Ok(Some(match (self.ear.bytes(), self.ear.frames(), self.ear.form()) {
            (0, ..) => Thing::Silent,
            (_, 1.., Some(Form::Binary)) => Thing::NoHello,
            _ => Thing::Other { is_gnss: self.ear.is_gnss(), hint: self.ear.hint(self.baud) },
        }))
    }

    /// Takes bytes that come until then; returns after some have come, or at that time.
    pub(super) async fn hear_until(&mut self, end: Instant) -> Result<(), LookError> {
        let read = self.open.link.read(&mut self.buffer);
        match tokio::time::timeout_at(end.into(), read).await {
            Err(_) => Ok(()),
            // 0 bytes never means "nothing yet".
            Ok(Ok(0)) => Err(self.went("hung up".to_owned())),
            Ok(Ok(length)) => {
                self.ear.take(self.buffer.get(..length).unwrap_or(&[]));
                self.answer_hello().await
            }
            Ok(Err(error)) => Err(self.went(error.to_string())),
        }
    }

    /// Tells the box to start, and again whenever it begins anew.
    pub(super) async fn start(&mut self) -> Result<(), LookError> {
        self.started = Some((Instant::now(), self.ear.hellos()));
        self.order(&Frame::Start).await
    }

    async fn answer_hello(&mut self) -> Result<(), LookError> {
        match self.started {
            Some((at, hellos)) if self.ear.hellos() != hellos && at.elapsed() >= START_AGAIN => {
                self.start().await
            }
            _ => Ok(()),
        }
    }

    async fn order(&mut self, frame: &Frame) -> Result<(), LookError> {
        let link: &mut dyn Link = &mut *self.open.link;
        send(link, frame, self.ear.form()).await.map_err(|why| self.went(why))
    }

    /// Tells the box to stop, and takes what is still on its way.
    pub(super) async fn stop(&mut self) -> Result<(), LookError> {
        self.started = None;
        self.order(&Frame::Stop).await?;
        let end = Instant::now() + DRAIN;
        while Instant::now() < end {
            self.hear_until(end).await?;
        }
        Ok(())
    }

    fn went(&self, why: String) -> LookError {
        LookError::Went { port: self.port.clone(), why }
    }
}
