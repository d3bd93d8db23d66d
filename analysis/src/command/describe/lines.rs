//! Lines of whoever answers. Their end, Ctrl-C and a terminal that is closed end them alike.

use std::io::{BufRead, Result};
use std::sync::mpsc::{Receiver, Sender, channel};

/// What came.
pub(super) enum Heard {
    Line(String),
    /// A line that is no UTF-8.
    Unreadable,
    /// There is none any more, and why.
    End(&'static str),
}

pub(super) struct Lines(Receiver<Heard>);

impl Lines {
    /// Of the standard input.
    ///
    /// # Errors
    /// If the system gives no signal handler or thread.
    pub(super) fn listen() -> Result<Self> {
        let (to, lines) = channel();
        tell_signals(to.clone())?;
        // The thread sleeps in its read until the process ends; there is no portable way to wake it.
        std::thread::Builder::new().name("answers".to_owned()).spawn(move || tell_lines(&to))?;
        Ok(Self(lines))
    }

    pub(super) fn next(&self) -> Heard {
        self.0.recv().unwrap_or(Heard::End(NO_MORE))
    }
}

const NO_MORE: &str = "the answers ended before the last question";

fn tell_lines(to: &Sender<Heard>) {
    let mut input = std::io::stdin().lock();
    loop {
        let mut line = Vec::new();
        // A terminal that is gone is read as an error.
        let heard = match input.read_until(b'\n', &mut line) {
            Ok(0) | Err(_) => Heard::End(NO_MORE),
            Ok(_) => String::from_utf8(line).map_or(Heard::Unreadable, Heard::Line),
        };
        let is_end = matches!(heard, Heard::End(_));
        if to.send(heard).is_err() || is_end {
            return;
        }
    }
}

/// Ends the lines for a signal that asks for it.
fn tell_signals(to: Sender<Heard>) -> Result<()> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_io().build()?;
    let signals = {
        let _inside = runtime.enter();
        signals()?
    };
    std::thread::Builder::new().name("signals".to_owned()).spawn(move || {
        // Who is no longer listening has ended.
        let _ = to.send(Heard::End(runtime.block_on(signals)));
    })?;
    Ok(())
}

#[cfg(unix)]
fn signals() -> Result<impl Future<Output = &'static str> + Send> {
    use tokio::signal::unix::{SignalKind, signal};
    let mut interrupts = signal(SignalKind::interrupt())?;
    let mut hangups = signal(SignalKind::hangup())?;
    let mut ends = signal(SignalKind::terminate())?;
    Ok(async move {
        tokio::select! {
            _ = interrupts.recv() => "Ctrl-C was pressed",
            _ = hangups.recv() => "the terminal was closed",
            _ = ends.recv() => "SIGTERM came",
        }
    })
}

#[cfg(not(unix))]
fn signals() -> Result<impl Future<Output = &'static str> + Send> {
    Ok(async {
        // Where nothing can be heard, Ctrl-C ends the process as ever; each answer is in its file.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
        "Ctrl-C was pressed"
    })
}
