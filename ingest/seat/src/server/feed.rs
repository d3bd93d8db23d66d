//! What goes out to all who look on: each event is written once and shared by all viewers, each of whom has room for a
//! second of them and is dropped when it does not take them.

use super::connections::Peer;
use super::counts::{Counts, one_more};
use super::token::Right;
use crate::live::Live;
use axum::body::{Body, Bytes, HttpBody};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use hyper::body::Frame;
use serde::Serialize;
use std::convert::Infallible;
use std::pin::Pin;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::sync::mpsc::{Receiver, Sender, channel};
use tokio::time::{Instant, MissedTickBehavior, interval};

/// Viewers at a time.
pub const VIEWERS_MAX: usize = 64;
/// Readings go out so often.
const READINGS_EVERY: Duration = Duration::from_millis(40);
/// The snapshot goes out so often.
const SNAPSHOT_EVERY: Duration = Duration::from_millis(100);
/// What one viewer may leave lying: a second of readings.
const BACKLOG: usize = 25;
/// At most so many lifts a second are told at once; the others come with the next readings.
const LIFT_EVERY: Duration = Duration::from_millis(20);

/// All who look on.
#[derive(Debug)]
pub struct Feed {
    live: Arc<Live>,
    counts: Arc<Counts>,
    state: Mutex<State>,
}

#[derive(Debug, Default)]
struct State {
    viewers: Vec<Viewer>,
    /// Number of the next point of the strip to send.
    strip_next: u64,
    notice_last: u64,
}

#[derive(Debug)]
struct Viewer {
    to: Sender<Bytes>,
    right: Right,
    peer: Peer,
}

/// One kind of event, for either right.
#[derive(Default)]
struct Events(String);

impl Events {
    fn add(&mut self, name: &str, value: &impl Serialize) {
        // What we write are structures of numbers and texts, which JSON has room for.
        let Ok(json) = serde_json::to_string(value) else { return };
        self.0.push_str("event: ");
        self.0.push_str(name);
        self.0.push_str("\ndata: ");
        self.0.push_str(&json);
        self.0.push_str("\n\n");
    }

    fn bytes(self) -> Bytes {
        Bytes::from(self.0)
    }
}

impl Feed {
    /// Of what is known live.
    #[must_use]
    pub fn new(live: Arc<Live>, counts: Arc<Counts>) -> Self {
        Self { live, counts, state: Mutex::default() }
    }

    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The answer to one more who looks on: the last 20 s, then what comes.
    pub fn view(self: &Arc<Self>, peer: &Peer, right: Right) -> Response {
        let mut state = self.state();
        if state.viewers.len() >= VIEWERS_MAX {
            one_more(&self.counts.viewers_refused);
            let why = "too many look on already: close the page elsewhere";
            return (StatusCode::SERVICE_UNAVAILABLE, why).into_response();
        }
        let (to, events) = channel(BACKLOG);
        let mut first = Events("retry: 500\n\n".to_owned());
        // Up to where the others are: what comes next is for all alike.
        first.add("strip", &self.live.strip(0, state.strip_next).0);
        let mut snapshot = self.live.snapshot();
        snapshot.may_control = right == Right::Control;
        first.add("snapshot", &snapshot);
        first.add("now", &self.live.now());
        // There is room: nothing is in it yet.
        let _ = to.try_send(first.bytes());
        peer.views();
        state.viewers.push(Viewer { to, right, peer: peer.clone() });
        self.counts.viewers.store(state.viewers.len() as u64, Ordering::Relaxed);
        ([(CONTENT_TYPE, "text/event-stream")], Body::new(EventStream(events))).into_response()
    }

    /// Sends out what there is, for as long as it is polled.
    pub async fn run(&self) {
        let mut tick = interval(READINGS_EVERY);
        tick.set_missed_tick_behavior(MissedTickBehavior::Skip);
        let mut snapshot_at = Instant::now();
        let mut lift_from = Instant::now();
        loop {
            tokio::select! {
                _ = tick.tick() => {}
                () = self.live.lift_began() => if Instant::now() < lift_from { continue },
            }
            let now = Instant::now();
            lift_from = now + LIFT_EVERY;
            let with_snapshot = now >= snapshot_at;
            if with_snapshot {
                // By its own beat, so that it keeps ten a second; after a stall from here on.
                snapshot_at = (snapshot_at + SNAPSHOT_EVERY).max(now);
            }
            self.send(with_snapshot);
        }
    }

    fn send(&self, with_snapshot: bool) {
        let mut state = self.state();
        let mut all = Events::default();
        let (points, next) = self.live.strip(state.strip_next, u64::MAX);
        state.strip_next = next;
        if state.viewers.is_empty() {
            return;
        }
        all.add("now", &self.live.now());
        if !points.is_empty() {
            all.add("strip", &points);
        }
        for notice in self.live.notices_after(state.notice_last) {
            state.notice_last = notice.number;
            all.add("notice", &notice);
        }
        let (mut controlling, mut looking_on) = (Events(all.0.clone()), all);
        if with_snapshot {
            let mut snapshot = self.live.snapshot();
            looking_on.add("snapshot", &snapshot);
            snapshot.may_control = true;
            controlling.add("snapshot", &snapshot);
        }
        let (controlling, looking_on) = (controlling.bytes(), looking_on.bytes());
        state.viewers.retain(|viewer| {
            let events = match viewer.right {
                Right::Control => &controlling,
                Right::LookOn => &looking_on,
            };
            let taken = viewer.to.try_send(events.clone());
            if matches!(taken, Err(tokio::sync::mpsc::error::TrySendError::Full(_))) {
                one_more(&self.counts.viewers_dropped);
                viewer.peer.close();
            }
            taken.is_ok()
        });
        self.counts.viewers.store(state.viewers.len() as u64, Ordering::Relaxed);
    }
}

/// Events as the body of an answer that does not end.
struct EventStream(Receiver<Bytes>);

impl HttpBody for EventStream {
    type Data = Bytes;
    type Error = Infallible;

    fn poll_frame(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
    ) -> Poll<Option<Result<Frame<Bytes>, Infallible>>> {
        self.0.poll_recv(cx).map(|events| events.map(|events| Ok(Frame::data(events))))
    }
}
