//! The web server at the seat: a page for a phone, and what it shows, on a thread and a runtime of its own.
//!
//! ```text
//! recorder's loop -> LiveView -> Live <- feed -> viewers
//!                 <- Controls <- wish <- gate <- connections
//! ```
//!
//! Nothing here can hold up the recorder: it shares [`Live`], whose lock is held for as long as a few numbers take to
//! copy, and [`Controls`], which never wait. What a request costs is bounded before anything of it is looked at
//! (`connections`), who asks is known before anything is answered (`gate`), and a viewer that does not take
//! what it asked for is dropped after a second (`feed`).

mod connections;
mod counts;
mod feed;
mod gate;
mod link;
mod metrics;
mod refused;
mod routes;
mod stalling;
mod token;
mod units;
mod wish;
mod wish_rate;

pub use link::{BLACK, LIGHT, Link, SaidLine, WHITE, has_color, links, qr_code, said, tokens_at};
pub use refused::OLD_LINK;
pub use token::{Right, Token, Tokens};
#[cfg(test)]
pub(crate) use wish::{FIELD_CHARACTERS, NOTE_CHARACTERS};
pub use wish::{WishError, parse_wish};

use crate::live::Live;
use crate::system::REUSES_ADDRESS;
use axum::Router;
use connections::Peer;
use counts::Counts;
use feed::Feed;
use gate::Gate;
use ingest::recorder::Controls;
use routes::Site;
use std::io;
use std::net::SocketAddr;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpSocket};
use tokio::sync::oneshot;

/// Bytes that the system keeps for one viewer: a backlog of seconds there would be as bad as one here.
const SEND_BUFFER_BYTES: u32 = 32 * 1024;
/// Connections that may wait to be taken.
const WAITING_CONNECTIONS: u32 = 1024;

/// Why the page cannot be served.
#[derive(Debug, thiserror::Error)]
pub enum ServerError {
    /// The address cannot be had.
    #[error("cannot serve the page at {address}: {cause}; {}", cure(cause))]
    Address {
        /// The address.
        address: SocketAddr,
        /// What the system said.
        cause: io::Error,
    },
    /// The system gives no thread, no runtime or no random numbers.
    #[error("cannot serve the page: {0}")]
    System(#[from] io::Error),
}

fn cure(cause: &io::Error) -> &'static str {
    match cause.kind() {
        io::ErrorKind::AddrInUse => {
            "is another recorder running? If it is to stay, give another port with --live, such as 127.0.0.1:8378"
        }
        _ => "give another with --live",
    }
}

/// All that answers requests, without a socket.
#[derive(Clone, Debug)]
pub struct Desk {
    router: Router,
    feed: Arc<Feed>,
    counts: Arc<Counts>,
}

impl Desk {
    /// For what is known live and wishes to a recorder; `more` are routes of others, behind the same gate.
    #[must_use]
    pub fn new(tokens: Option<Tokens>, live: Arc<Live>, controls: Controls, more: Router) -> Self {
        let counts = Arc::new(Counts::default());
        let feed = Arc::new(Feed::new(Arc::clone(&live), Arc::clone(&counts)));
        let gate = Gate { tokens, counts: Arc::clone(&counts) };
        let site = Site {
            live,
            controls,
            feed: Arc::clone(&feed),
            counts: Arc::clone(&counts),
            wish_rate: wish_rate::WishRate::default(),
        };
        Self { router: routes::router(Arc::new(site), gate, more), feed, counts }
    }

    /// Answers what is asked on a stream that came from one address to another.
    pub async fn answer(
        &self,
        stream: impl AsyncRead + AsyncWrite + Unpin,
        from: SocketAddr,
        to: SocketAddr,
    ) {
        connections::answer(stream, Peer::new(from, to), self.router.clone()).await;
    }
}

/// Answers that are due at the end of the server have this long.
const LAST_WORDS: Duration = Duration::from_millis(100);

/// A server at work; it ends when this is dropped.
#[derive(Debug)]
pub struct Server {
    address: SocketAddr,
    tokens: Option<Tokens>,
    end: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Server {
    /// Serves at an address, with its tokens of [`tokens_at`], what is known live and takes wishes; `more` are routes of
    /// others, behind the same gate.
    ///
    /// # Errors
    /// [`ServerError`].
    pub fn start(
        address: SocketAddr,
        tokens: Option<Tokens>,
        live: Arc<Live>,
        controls: Controls,
        more: Router,
    ) -> Result<Self, ServerError> {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build()?;
        let listener = {
            let _entered = runtime.enter();
            listen(address).map_err(|cause| ServerError::Address { address, cause })?
        };
        let address = listener.local_addr()?;
        let Desk { router, feed, counts } = Desk::new(tokens.clone(), live, controls, more);
        let (end, ended) = oneshot::channel::<()>();
        let serving = async move {
            tokio::select! {
                // Whether it is asked for or the other end is gone, it is the end.
                _ = ended => {}
                () = connections::serve(listener, router, counts) => {}
                () = feed.run() => {}
            }
            // Whoever asked for this end is told that it has come.
            tokio::time::sleep(LAST_WORDS).await;
        };
        let thread = std::thread::Builder::new().name("server".to_owned()).spawn(move || {
            runtime.block_on(serving);
            // Answers that are still under way must not hold up the end.
            runtime.shutdown_background();
        })?;
        Ok(Self { address, tokens, end: Some(end), thread: Some(thread) })
    }

    /// Where it serves.
    #[must_use]
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// The links to its page.
    #[must_use]
    pub fn links(&self) -> Vec<Link> {
        links(self.address, self.tokens.as_ref())
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        drop(self.end.take());
        if let Some(thread) = self.thread.take() {
            // It has nothing to say if it failed.
            let _ = thread.join();
        }
    }
}

fn listen(address: SocketAddr) -> io::Result<TcpListener> {
    let socket = if address.is_ipv4() { TcpSocket::new_v4()? } else { TcpSocket::new_v6()? };
    socket.set_reuseaddr(REUSES_ADDRESS)?;
    socket.set_send_buffer_size(SEND_BUFFER_BYTES)?;
    socket.bind(address)?;
    socket.listen(WAITING_CONNECTIONS)
}
