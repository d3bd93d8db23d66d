//! The task of one port: opens it, reads, pings, and opens it again when it has gone.

use super::{Link, OpenPort, Ports};
use crate::session::Session;
use crate::wire_file::WireEvent;
use firmware_protocol::{Form, Frame, encode, sentences};
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::sync::mpsc;
use tokio::time::Instant;

/// Waits between tries to open a port again: from the first to the last, doubling.
const REOPEN_FIRST: Duration = Duration::from_millis(20);
const REOPEN_LAST: Duration = Duration::from_millis(500);
/// A box that does not take a command of a few bytes in this time is gone.
const WRITE_PATIENCE: Duration = Duration::from_millis(500);
/// Bytes that one read may bring.
pub(crate) const READ_BYTES: usize = 16 * 1024;

/// What a port's task has to say: that the port was opened or has gone, that bytes came, or that a ping is about to
/// go out.
#[derive(Clone, Debug)]
pub struct PortMessage {
    /// Number of the port, from 0.
    pub number: usize,
    pub at: Instant,
    pub what: WireEvent,
}

/// What a port's task is told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ToPort {
    /// Tell the box to start, now and after each opening from now on.
    Start,
    /// Tell the box to stop.
    Stop,
    /// Ping a few times quickly.
    PingBurst,
    /// Close the port and open it again, for this reason.
    Reopen(String),
}

struct Reporter {
    number: usize,
    out: mpsc::Sender<PortMessage>,
}

impl Reporter {
    /// Whether somebody still listens.
    async fn say(&self, what: WireEvent) -> bool {
        self.out.send(PortMessage { number: self.number, at: Instant::now(), what }).await.is_ok()
    }
}

/// A port to be served.
#[derive(Clone, Debug)]
pub struct Served {
    /// Its number in the messages, from 0.
    pub number: usize,
    pub port: PathBuf,
    pub baud: u32,
    /// The conversation with the box behind it; `None` for a device to which nothing is ever written.
    pub session: Option<Session>,
}

/// Serves a port, which may be open already, until nobody listens any more. A port that is only listened to
/// takes no order but [`ToPort::Reopen`].
pub async fn serve(
    ports: Arc<dyn Ports>,
    served: Served,
    mut open: Option<OpenPort>,
    out: mpsc::Sender<PortMessage>,
    mut orders: mpsc::Receiver<ToPort>,
) {
    let Served { number, port, baud, mut session } = served;
    let reporter = Reporter { number, out };
    let mut patience = REOPEN_FIRST;
    loop {
        let Some(opened) = open.take().or_else(|| ports.open(&port, baud).ok()) else {
            tokio::select! {
                biased;
                () = tokio::time::sleep(patience) => {}
                order = orders.recv() => match order {
                    Some(order) => obey(&order, session.as_mut()),
                    None => return,
                },
            }
            patience = (patience * 2).min(REOPEN_LAST);
            continue;
        };
        patience = REOPEN_FIRST;
        if let Some(session) = &mut session {
            session.opened(Instant::now());
        }
        if !reporter.say(WireEvent::PortOpened(port.display().to_string())).await {
            return;
        }
        // The port is dropped before it is said to be gone: a handle that is held makes a device come
        // back under another name.
        let mut link = opened;
        let end = while_open(&mut *link.link, session.as_mut(), &reporter, &mut orders).await;
        drop(link);
        let Some(why) = end else { return };
        if !reporter.say(WireEvent::PortGone(why)).await {
            return;
        }
        tokio::time::sleep(REOPEN_FIRST).await;
    }
}

/// What an order changes in the conversation; nothing where nothing is ever written.
fn obey(order: &ToPort, session: Option<&mut Session>) {
    match (order, session) {
        (ToPort::Start, Some(session)) => session.start(Instant::now()),
        (ToPort::Stop, Some(session)) => session.stop(),
        (ToPort::PingBurst, Some(session)) => session.ping_burst(Instant::now()),
        (ToPort::Reopen(_), _) | (_, None) => {}
    }
}

/// Serves an open port; returns why it is gone, or `None` when nobody listens any more.
async fn while_open(
    link: &mut dyn Link,
    mut session: Option<&mut Session>,
    reporter: &Reporter,
    orders: &mut mpsc::Receiver<ToPort>,
) -> Option<String> {
    let mut buffer = vec![0; READ_BYTES];
    loop {
        while let Some(session) = &mut session
            && let Some(frame) = session.say(Instant::now())
        {
            // Said before it is sent, so that its time is not after the box's.
            if let Frame::Ping { token } = frame
                && !reporter.say(WireEvent::PingSent { token }).await
            {
                return None;
            }
            if let Err(why) = send(link, &frame, session.form()).await {
                return Some(why);
            }
        }
        let due = session.as_ref().and_then(|session| session.due());
        let until_due = due.map_or(Duration::MAX, |due| due.saturating_duration_since(Instant::now()));
        tokio::select! {
            biased;
            order = orders.recv() => match order? {
                ToPort::Reopen(why) => return Some(why),
                order => obey(&order, session.as_deref_mut()),
            },
            read = link.read(&mut buffer) => match read {
                // 0 bytes never means "nothing yet": asking again would spin for ever.
                Ok(0) => return Some("hung up".to_owned()),
                Ok(length) => {
                    let bytes: Vec<u8> = buffer.iter().take(length).copied().collect();
                    if let Some(session) = &mut session {
                        let (mut rest, now) = (&bytes[..], Instant::now());
                        while session.hear(&mut rest, now).is_some() {}
                    }
                    if !reporter.say(WireEvent::Received(bytes)).await {
                        return None;
                    }
                }
                Err(error) => return Some(error.to_string()),
            },
            () = tokio::time::sleep(until_due), if due.is_some() => {}
        }
    }
}

/// Commands may be sent twice without harm, so one that went out in part only is no danger. Before
/// anything has shown its form the box is spoken to in frames, which one that prints has to ignore.
pub(crate) async fn send(link: &mut dyn Link, frame: &Frame, form: Option<Form>) -> Result<(), String> {
    let bytes: Vec<u8> = match form {
        Some(Form::Text) => sentences(frame).flat_map(|sentence| sentence.as_bytes().to_vec()).collect(),
        Some(Form::Binary) | None => encode(frame).as_bytes().to_vec(),
    };
    match tokio::time::timeout(WRITE_PATIENCE, link.write_all(&bytes)).await {
        Ok(written) => written.map_err(|error| error.to_string()),
        Err(_) => Err("the box takes no commands".to_owned()),
    }
}
