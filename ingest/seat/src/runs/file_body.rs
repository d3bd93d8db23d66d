//! A file that goes out piece by piece, as fast as its reader takes it.

use axum::body::{Body, Bytes};
use futures_core::Stream;
use std::fs::File;
use std::io::{self, Read};
use std::pin::Pin;
use std::task::{Context, Poll, ready};
use tokio::sync::OwnedSemaphorePermit;
use tokio::task::JoinHandle;

/// Bytes of a piece.
const PIECE_BYTES: u64 = 64 * 1024;

/// The first bytes of a file, as many as were there when it was asked for.
pub(super) struct FileBody {
    state: State,
    left: u64,
    /// One of those that may be under way at once.
    _permit: OwnedSemaphorePermit,
}

enum State {
    Rests(File),
    Reads(JoinHandle<io::Result<(File, Vec<u8>)>>),
    Over,
}

impl FileBody {
    /// So many bytes of a file.
    pub fn of(file: File, bytes: u64, permit: OwnedSemaphorePermit) -> Body {
        Body::from_stream(Self { state: State::Rests(file), left: bytes, _permit: permit })
    }
}

impl Stream for FileBody {
    type Item = io::Result<Bytes>;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        loop {
            match std::mem::replace(&mut self.state, State::Over) {
                State::Over => return Poll::Ready(None),
                State::Rests(_) if self.left == 0 => return Poll::Ready(None),
                State::Rests(file) => {
                    let piece = self.left.min(PIECE_BYTES);
                    self.state = State::Reads(tokio::task::spawn_blocking(move || read(file, piece)));
                }
                State::Reads(mut reading) => {
                    let poll = Pin::new(&mut reading).poll(context);
                    if poll.is_pending() {
                        self.state = State::Reads(reading);
                    }
                    let read = ready!(poll).map_err(io::Error::other).and_then(|read| read);
                    return Poll::Ready(Some(read.map(|(file, bytes)| {
                        self.left = self.left.saturating_sub(bytes.len() as u64);
                        self.state = State::Rests(file);
                        Bytes::from(bytes)
                    })));
                }
            }
        }
    }
}

fn read(mut file: File, bytes: u64) -> io::Result<(File, Vec<u8>)> {
    let mut piece = Vec::new();
    file.by_ref().take(bytes).read_to_end(&mut piece)?;
    if (piece.len() as u64) < bytes {
        // Its length was promised.
        return Err(io::Error::new(io::ErrorKind::UnexpectedEof, "the file has become shorter"));
    }
    Ok((file, piece))
}
