//! Before a run: every port must show a box that fits the plow, and the receiver's port a receiver.

use super::RecordError;
use super::connection::Connection;
use super::console::Wish;
use super::receiver_connection::ReceiverConnection;
use super::start::check_channels;
use super::state::Recorder;
use firmware_protocol::Hello;
use std::time::Duration;
use tokio::time::Instant;

/// A box must say hello within this time; [`crate::session`] has it told to start meanwhile.
pub(super) const HELLO_PATIENCE: Duration = Duration::from_secs(5);
/// After the hellos, the first pings are waited for at most this long.
const PING_PATIENCE: Duration = Duration::from_millis(300);

impl Recorder<'_> {
    /// Waits until every box has said hello and fits, and its clock has answered; and until the receiver
    /// has shown that it can give fixes. Gives the hellos.
    pub(super) async fn listen(&mut self) -> Result<Vec<Hello>, RecordError> {
        let began = Instant::now();
        let mut heard_all: Option<Instant> = None;
        loop {
            tokio::select! {
                biased;
                // There is no run yet to set a mark in.
                Some(wish) = self.wishes.recv() => {
                    if let Wish::End(_) = wish {
                        return Err(RecordError::StoppedBefore);
                    }
                }
                message = self.messages.recv() => match message {
                    Some(message) => self.on_message(message),
                    None => return Err(RecordError::StoppedBefore),
                },
                () = tokio::time::sleep(Duration::from_millis(20)) => {}
            }
            self.check_ports()?;
            let is_over = began.elapsed() >= HELLO_PATIENCE;
            match self.hellos() {
                Err(silent) if is_over => return Err(silent.no_hello(self.config.baud)),
                Err(_) => {}
                Ok(hellos) => {
                    let heard = *heard_all.get_or_insert_with(|| {
                        self.ping();
                        Instant::now()
                    });
                    check_channels(&self.connections, &hellos)?;
                    let fitted =
                        self.connections.iter().all(|connection| connection.live.clock().line().is_some());
                    let waited = heard.elapsed();
                    let receiver_is_ready = self.gnss.as_ref().is_none_or(ReceiverConnection::is_ready);
                    let boxes_are_ready = waited >= PING_PATIENCE || (fitted && waited >= PING_PATIENCE / 2);
                    if boxes_are_ready && receiver_is_ready {
                        return Ok(hellos);
                    }
                    if is_over {
                        return self.gnss.as_ref().map_or(Ok(()), ReceiverConnection::check).map(|()| hellos);
                    }
                }
            }
        }
    }

    /// What each box has said of itself, or the first that has not.
    pub(super) fn hellos(&self) -> Result<Vec<Hello>, &Connection> {
        let hello = |connection: &'_ Connection| connection.live.handshake.hello;
        self.connections.iter().map(|connection| hello(connection).ok_or(connection)).collect()
    }

    /// What a run cannot begin with, as soon as it shows.
    pub(super) fn check_ports(&self) -> Result<(), RecordError> {
        self.check_refusals()?;
        for connection in &self.connections {
            connection.watch.check_there()?;
        }
        self.gnss.as_ref().map_or(Ok(()), |gnss| gnss.watch.check_there())
    }

    /// Boxes that cannot be recorded.
    pub(super) fn check_refusals(&self) -> Result<(), RecordError> {
        let refused = |connection: &Connection| {
            let (port, refusal) = (connection.watch.port.clone(), connection.live.refusal()?.clone());
            Some(RecordError::Refused { port, refusal })
        };
        self.connections.iter().find_map(refused).map_or(Ok(()), Err)
    }
}
