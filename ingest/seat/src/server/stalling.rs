//! A connection that is given up when the other end takes nothing any more.

use std::io;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::time::{Instant, Sleep, sleep};

/// How long the other end may take nothing while something is there for it.
const STALLS_FOR: Duration = Duration::from_secs(5);

/// A stream whose writes fail once they have waited for [`STALLS_FOR`].
#[derive(Debug)]
pub struct Stalling<S> {
    stream: S,
    /// When a write that waits is given up.
    deadline: Option<Pin<Box<Sleep>>>,
}

impl<S> Stalling<S> {
    /// Around a stream.
    pub fn new(stream: S) -> Self {
        Self { stream, deadline: None }
    }

    fn watch<T>(&mut self, cx: &mut Context<'_>, written: Poll<io::Result<T>>) -> Poll<io::Result<T>> {
        if written.is_ready() {
            self.deadline = None;
            return written;
        }
        let deadline = self.deadline.get_or_insert_with(|| Box::pin(sleep(STALLS_FOR)));
        if deadline.as_mut().poll(cx).is_ready() || deadline.deadline() <= Instant::now() {
            return Poll::Ready(Err(io::ErrorKind::TimedOut.into()));
        }
        Poll::Pending
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Stalling<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        to: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(cx, to)
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Stalling<S> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, bytes: &[u8]) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write(cx, bytes);
        self.watch(cx, written)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        bytes: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        let written = Pin::new(&mut self.stream).poll_write_vectored(cx, bytes);
        self.watch(cx, written)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio::io::{AsyncReadExt, AsyncWriteExt, duplex};

    #[tokio::test(start_paused = true)]
    async fn a_write_that_nobody_takes_fails_and_a_slow_reader_does_not() {
        let (near, mut far) = duplex(16);
        let mut stalling = Stalling::new(near);
        let begun = Instant::now();
        let slow = async {
            let mut byte = [0];
            for _ in 0..40 {
                tokio::time::sleep(STALLS_FOR / 2).await;
                far.read_exact(&mut byte).await.unwrap();
            }
        };
        let (written, ()) = tokio::join!(stalling.write_all(&[7; 50]), slow);
        assert!(written.is_ok() && begun.elapsed() > STALLS_FOR * 10);
        stalling.write_all(&[7; 6]).await.unwrap();
        let begun = Instant::now();
        let error = stalling.write_all(b"x").await.unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::TimedOut);
        assert_eq!(begun.elapsed().as_secs(), STALLS_FOR.as_secs());
    }
}
