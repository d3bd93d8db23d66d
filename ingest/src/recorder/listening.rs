//! Before a run: every port must show a box that fits the plow, and the receiver's port a receiver.

use super::RecordError;
use super::console::Signals;
use super::live::Recorder;
use super::no_hello::no_hello;
use super::receiver_station::ReceiverStation;
use super::start::check_channels;
use crate::port::ToPort;
use std::time::{Duration, Instant};

/// A box must say hello within this time; after `START_UNASKED` without, it is told to start, which a
/// box that is running already answers with a hello.
const HELLO_PATIENCE: Duration = Duration::from_secs(5);
const START_UNASKED: Duration = Duration::from_millis(1300);
/// After the hellos, the first pings are waited for at most this long.
const PING_PATIENCE: Duration = Duration::from_millis(300);

impl Recorder<'_> {
    /// Waits until every box has said hello and fits, and its clock has answered; and until the receiver
    /// has shown that it can give fixes.
    pub(super) async fn listen(&mut self, signals: &mut Signals) -> Result<(), RecordError> {
        let began = Instant::now();
        let mut asked = false;
        let mut heard_all: Option<Instant> = None;
        loop {
            tokio::select! {
                message = self.messages.recv() => match message {
                    Some(message) => self.message(message),
                    None => return Err(RecordError::StoppedBefore),
                },
                _ = signals.next() => return Err(RecordError::StoppedBefore),
                () = tokio::time::sleep(Duration::from_millis(20)) => {}
            }
            self.check_ports()?;
            if self.stations.iter().all(|station| station.live.hello().is_some()) {
                let heard = *heard_all.get_or_insert_with(|| {
                    for station in &mut self.stations {
                        station.order(ToPort::PingBurst);
                    }
                    Instant::now()
                });
                check_channels(&self.stations)?;
                let fitted = self.stations.iter().all(|station| station.live.clock().is_fitted());
                let waited = heard.elapsed();
                let receiver_is_ready = self.gnss.as_ref().is_none_or(ReceiverStation::is_ready);
                let boxes_are_ready = waited >= PING_PATIENCE || (fitted && waited >= PING_PATIENCE / 2);
                if boxes_are_ready && receiver_is_ready {
                    return Ok(());
                }
            }
            if !asked && heard_all.is_none() && began.elapsed() >= START_UNASKED {
                asked = true;
                for station in self.stations.iter_mut().filter(|station| station.live.hello().is_none()) {
                    station.order(ToPort::Start);
                }
            }
            if began.elapsed() >= HELLO_PATIENCE {
                let silent = self.stations.iter().find(|station| station.live.hello().is_none());
                return match (silent, &self.gnss) {
                    (Some(station), _) => Err(no_hello(station, self.config.baud)),
                    (None, Some(gnss)) => gnss.check(),
                    (None, None) => Ok(()),
                };
            }
        }
    }

    /// What a run cannot begin with, as soon as it shows.
    fn check_ports(&self) -> Result<(), RecordError> {
        for station in &self.stations {
            if let Some(refusal) = station.live.refusal() {
                let (port, refusal) = (station.watch.port.clone(), refusal.clone());
                return Err(RecordError::Refused { port, refusal });
            }
            station.watch.check_there()?;
        }
        self.gnss.as_ref().map_or(Ok(()), |gnss| gnss.watch.check_there())
    }
}
