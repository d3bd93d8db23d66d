//! Connections and what each may cost: a place for a while, a head of 8 KiB within 5 s, one request.
//!
//! There are a fixed number of places. Who comes when all are taken gets the place of the one that has waited longest
//! without having asked for anything; so a flood of silent connections keeps nobody out for longer than it takes to
//! ask.

use super::counts::{Counts, one_more};
use super::stalling::Stalling;
use axum::Router;
use hyper::server::conn::http1;
use hyper::service::{Service, service_fn};
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use std::collections::VecDeque;
use std::net::SocketAddr;
use std::sync::atomic::{AtomicU8, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpListener;
use tokio::sync::Notify;

/// Connections at a time.
pub const CONNECTIONS_MAX: usize = 192;
/// How long a request may take to come.
pub const HEAD_WITHIN: Duration = Duration::from_secs(5);
/// Bytes of a request's head, and of its body.
pub const REQUEST_BYTES_MAX: usize = 8192;
/// Lines of a head.
const HEADERS_MAX: usize = 64;
/// How long to wait where the system has no more room for connections.
const NO_ROOM_WAIT: Duration = Duration::from_millis(50);

const WAITS: u8 = 0;
const ASKED: u8 = 1;
const VIEWS: u8 = 2;

/// A connection, as what answers its request sees it.
#[derive(Clone, Debug)]
pub struct Peer {
    /// Where it comes from.
    pub from: SocketAddr,
    /// The address of ours that it came in on.
    pub to: SocketAddr,
    place: Arc<Place>,
}

impl Peer {
    /// From one address to another, with a place of its own.
    pub fn new(from: SocketAddr, to: SocketAddr) -> Self {
        Self { from, to, place: Arc::default() }
    }

    /// It is a viewer from now on, which keeps its place until it ends or is closed.
    pub fn views(&self) {
        self.place.stage.store(VIEWS, Ordering::Relaxed);
    }

    /// Closes it, whatever it is doing.
    pub fn close(&self) {
        self.place.close.notify_one();
    }
}

#[derive(Debug, Default)]
struct Place {
    stage: AtomicU8,
    close: Notify,
}

/// The places that are taken, the oldest first.
#[derive(Debug, Default)]
struct Places(Mutex<VecDeque<Arc<Place>>>);

impl Places {
    fn taken(&self) -> MutexGuard<'_, VecDeque<Arc<Place>>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn take(&self, counts: &Counts) -> Arc<Place> {
        let place = Arc::new(Place::default());
        let mut taken = self.taken();
        while taken.len() >= CONNECTIONS_MAX {
            let oldest = |stage| taken.iter().position(|place| place.stage.load(Ordering::Relaxed) == stage);
            // There are always fewer viewers than places.
            let Some(number) = oldest(WAITS).or_else(|| oldest(ASKED)) else { break };
            if let Some(place) = taken.remove(number) {
                place.close.notify_one();
                one_more(&counts.connections_dropped);
            }
        }
        taken.push_back(Arc::clone(&place));
        counts.connections.store(taken.len() as u64, Ordering::Relaxed);
        place
    }

    fn leave(&self, place: &Arc<Place>, counts: &Counts) {
        let mut taken = self.taken();
        taken.retain(|other| !Arc::ptr_eq(other, place));
        counts.connections.store(taken.len() as u64, Ordering::Relaxed);
    }
}

/// Takes connections for as long as it is polled.
pub async fn serve(listener: TcpListener, router: Router, counts: Arc<Counts>) {
    let places = Arc::new(Places::default());
    loop {
        let Ok((stream, from)) = listener.accept().await else {
            tokio::time::sleep(NO_ROOM_WAIT).await;
            continue;
        };
        let Ok(to) = stream.local_addr() else { continue };
        let place = places.take(&counts);
        // Readings go out at once or not at all; a connection that cannot do so is slower, not wrong.
        let _ = stream.set_nodelay(true);
        let peer = Peer { from, to, place: Arc::clone(&place) };
        let (router, places, counts) = (router.clone(), Arc::clone(&places), Arc::clone(&counts));
        tokio::spawn(async move {
            tokio::select! {
                () = place.close.notified() => {}
                () = silent(&place) => {}
                () = answer(stream, peer, router) => {}
            }
            places.leave(&place, &counts);
        });
    }
}

/// Ends when no request has come in time.
async fn silent(place: &Place) {
    tokio::time::sleep(HEAD_WITHIN).await;
    if place.stage.load(Ordering::Relaxed) != WAITS {
        std::future::pending::<()>().await;
    }
}

/// Answers one request.
pub async fn answer(stream: impl AsyncRead + AsyncWrite + Unpin, peer: Peer, router: Router) {
    let router = TowerToHyperService::new(router);
    let service = service_fn(move |mut request: hyper::Request<hyper::body::Incoming>| {
        peer.place.stage.store(ASKED, Ordering::Relaxed);
        request.extensions_mut().insert(peer.clone());
        router.call(request)
    });
    let connection = http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_WITHIN)
        .max_buf_size(REQUEST_BYTES_MAX)
        .max_headers(HEADERS_MAX)
        .keep_alive(false)
        .serve_connection(TokioIo::new(Stalling::new(stream)), service);
    // Whatever was wrong with it is over with it.
    let _ = connection.await;
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::io::{AsyncReadExt, AsyncWriteExt};

    fn is_closed(place: &Place) -> bool {
        // A closing that nobody waited for yet is kept.
        let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap();
        runtime.block_on(async {
            tokio::time::timeout(Duration::from_millis(1), place.close.notified()).await.is_ok()
        })
    }

    #[test]
    fn who_waited_longest_without_asking_makes_room_and_viewers_stay() {
        let (places, counts) = (Places::default(), Counts::default());
        let first: Vec<_> = (0..CONNECTIONS_MAX).map(|_| places.take(&counts)).collect();
        first[0].stage.store(VIEWS, Ordering::Relaxed);
        first[1].stage.store(ASKED, Ordering::Relaxed);
        let _more: Vec<_> = (0..CONNECTIONS_MAX - 2).map(|_| places.take(&counts)).collect();
        assert!(!is_closed(&first[0]) && !is_closed(&first[1]));
        assert!(first[2..].iter().all(|place| is_closed(place)));
        for place in _more {
            place.stage.store(ASKED, Ordering::Relaxed);
        }
        places.take(&counts);
        assert!(is_closed(&first[1]), "then who was answered longest ago");
        assert_eq!(places.taken().len(), CONNECTIONS_MAX);
        assert_eq!(counts.connections_dropped.load(Ordering::Relaxed), CONNECTIONS_MAX as u64 - 1);
        places.leave(&first[0], &counts);
        assert_eq!(places.taken().len(), CONNECTIONS_MAX - 1);
    }

    /// In simulated time.
    fn paused<T>(of: impl Future<Output = T>) -> T {
        let mut runtime = tokio::runtime::Builder::new_current_thread();
        runtime.enable_time().start_paused(true).build().unwrap().block_on(of)
    }

    #[test]
    fn who_asks_for_nothing_in_time_goes_and_who_asked_or_views_stays() {
        for (stage, goes) in [(WAITS, true), (ASKED, false), (VIEWS, false)] {
            let place = Place::default();
            place.stage.store(stage, Ordering::Relaxed);
            let ended = |within| paused(async { tokio::time::timeout(within, silent(&place)).await.is_ok() });
            assert!(!ended(HEAD_WITHIN - Duration::from_millis(10)));
            assert_eq!(ended(10 * HEAD_WITHIN), goes, "stage {stage}");
        }
    }

    /// What is answered to these bytes until the connection is closed, and how long that took.
    fn answered(asked: &str) -> (String, Duration) {
        let peer = Peer::new(([127, 0, 0, 1], 40_000).into(), ([127, 0, 0, 1], 8377).into());
        let place = Arc::clone(&peer.place);
        let hello = axum::routing::get(move || {
            let stage = place.stage.load(Ordering::Relaxed);
            async move { format!("stage {stage}") }
        });
        paused(async {
            let (ours, mut theirs) = tokio::io::duplex(1 << 16);
            theirs.write_all(asked.as_bytes()).await.unwrap();
            let began = tokio::time::Instant::now();
            answer(ours, peer, Router::new().route("/", hello)).await;
            let mut said = String::new();
            theirs.read_to_string(&mut said).await.unwrap();
            (said, began.elapsed())
        })
    }

    #[test]
    fn one_request_is_answered_and_none_that_is_long_or_slow() {
        let one = "GET / HTTP/1.1\r\nhost: a\r\n\r\n";
        let (said, _) = answered(&one.repeat(2));
        assert_eq!(said.matches("HTTP/1.1 200").count(), 1, "{said}");
        assert!(said.ends_with(&format!("stage {ASKED}")), "it has asked before it is answered: {said}");
        let long = one.replace("host", &format!("x: {}\r\nhost", "y".repeat(REQUEST_BYTES_MAX)));
        let many = one.replace("host", &format!("{}host", "x: y\r\n".repeat(HEADERS_MAX)));
        for asked in [long, many] {
            let (said, _) = answered(&asked);
            assert!(said.starts_with("HTTP/1.1 431"), "{said}");
        }
        let (said, took) = answered("GET / HTTP/1.1\r\nhost:");
        assert!(!said.contains(" 200 ") && took == HEAD_WITHIN, "{took:?}: {said}");
    }
}
