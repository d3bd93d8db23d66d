//! What the person at the recorder does: presses Enter, or asks it to end.

use std::io::IsTerminal;
use tokio::sync::mpsc;

/// One message for each line on stdin, if somebody sits there: pressing Enter sets a mark.
pub fn lines_of_stdin() -> mpsc::Receiver<()> {
    let (out, lines) = mpsc::channel(8);
    if std::io::stdin().is_terminal() {
        // The thread sleeps in its read until the process ends; there is no portable way to wake it.
        let _ = std::thread::Builder::new().name("stdin".to_owned()).spawn(move || {
            let mut line = String::new();
            while std::io::stdin().read_line(&mut line).is_ok_and(|length| length > 0) {
                line.clear();
                if out.blocking_send(()).is_err() {
                    return;
                }
            }
        });
    }
    lines
}

/// The signals that ask a program to end.
pub struct Signals {
    #[cfg(unix)]
    streams: [(&'static str, tokio::signal::unix::Signal); 3],
}

impl Signals {
    #[cfg(unix)]
    pub fn new() -> std::io::Result<Self> {
        use tokio::signal::unix::{SignalKind, signal};
        Ok(Self {
            streams: [
                ("Ctrl-C", signal(SignalKind::interrupt())?),
                ("SIGTERM", signal(SignalKind::terminate())?),
                ("SIGHUP", signal(SignalKind::hangup())?),
            ],
        })
    }

    #[cfg(unix)]
    pub async fn next(&mut self) -> &'static str {
        let [(interrupt, a), (terminate, b), (hangup, c)] = &mut self.streams;
        tokio::select! {
            _ = a.recv() => interrupt,
            _ = b.recv() => terminate,
            _ = c.recv() => hangup,
        }
    }

    #[cfg(not(unix))]
    pub fn new() -> std::io::Result<Self> {
        Ok(Self {})
    }

    #[cfg(not(unix))]
    pub async fn next(&mut self) -> &'static str {
        let _ = tokio::signal::ctrl_c().await;
        "Ctrl-C"
    }
}
