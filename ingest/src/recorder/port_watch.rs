//! Whether a port is there and something comes on it, and what its task is told.

use super::RecordError;
use crate::port::ToPort;
use crate::wire_file::WireEvent;
use std::path::PathBuf;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::Instant;

/// A port that a recorder reads from.
#[derive(Debug)]
pub struct PortWatch {
    /// The port, as it was named.
    pub port: PathBuf,
    /// Since when it is away.
    pub away_since: Option<Instant>,
    went: Option<String>,
    /// `None` once the port's task has been let go.
    orders: Option<mpsc::Sender<ToPort>>,
    heard: Instant,
    /// Silent for longer than the first, the port is opened anew; the limit now, which doubles up to the last.
    silence: [Duration; 2],
    silence_now: Duration,
}

impl PortWatch {
    /// A port that is about to be served.
    pub fn new(port: PathBuf, orders: mpsc::Sender<ToPort>, silence: [Duration; 2]) -> Self {
        Self {
            port,
            away_since: None,
            went: None,
            orders: Some(orders),
            heard: Instant::now(),
            silence,
            silence_now: silence[0],
        }
    }

    /// The port was not there yet.
    pub fn is_awaited(&mut self, why: String) {
        self.away_since = Some(Instant::now());
        self.went = Some(why);
    }

    /// Tells the port's task something. A task that takes no orders has ended with its port, or will
    /// take the next one: orders may be repeated and may get lost.
    pub fn order(&self, order: ToPort) {
        if let Some(orders) = &self.orders {
            let _ = orders.try_send(order);
        }
    }

    /// Lets the port's task end: it says what it has read, and reads no more.
    pub fn let_go(&mut self) {
        self.orders = None;
    }

    /// Takes note of what happened.
    pub fn take(&mut self, what: &WireEvent, now: Instant) {
        match what {
            WireEvent::Received(_) => {
                self.heard = now;
                self.silence_now = self.silence[0];
            }
            WireEvent::PortGone(why) => {
                self.away_since.get_or_insert(now);
                self.went = Some(why.clone());
            }
            WireEvent::PortOpened(_) => {
                self.away_since = None;
                self.heard = now;
            }
            WireEvent::Started => self.heard = now,
            _ => {}
        }
    }

    /// Has a port that is open but silent opened anew.
    pub fn check_silence(&mut self, now: Instant) {
        let silent = now.duration_since(self.heard);
        if self.away_since.is_none() && silent >= self.silence_now {
            self.order(ToPort::Reopen(format!("silent for {:.1} s", silent.as_secs_f64())));
            self.heard = now;
            self.silence_now = (self.silence_now * 2).min(self.silence[1]);
        }
    }

    /// A run does not begin while a port is away.
    pub fn check_there(&self) -> Result<(), RecordError> {
        match (&self.went, self.away_since) {
            (Some(why), Some(_)) => Err(RecordError::PortWent { port: self.port.clone(), why: why.clone() }),
            _ => Ok(()),
        }
    }
}
