//! What the person at the recorder does: presses Enter, or asks it to end.

use std::io::IsTerminal;
use tokio::sync::mpsc;

/// What the person at the recorder wishes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wish {
    /// A mark in the run.
    Mark,
    /// The end, asked for by this.
    End(&'static str),
}

/// A mark for each line on stdin, if somebody sits there, and the end for a signal that asks for it.
///
/// # Errors
/// If the system gives no signal handler.
pub fn wishes_of_person() -> std::io::Result<mpsc::Receiver<Wish>> {
    let (out, wishes) = mpsc::channel(8);
    tell_signals(&out)?;
    if std::io::stdin().is_terminal() {
        // The thread sleeps in its read until the process ends; there is no portable way to wake it.
        let _ = std::thread::Builder::new().name("stdin".to_owned()).spawn(move || {
            let mut line = String::new();
            while std::io::stdin().read_line(&mut line).is_ok_and(|length| length > 0) {
                line.clear();
                if out.blocking_send(Wish::Mark).is_err() {
                    return;
                }
            }
        });
    }
    Ok(wishes)
}

#[cfg(unix)]
fn tell_signals(out: &mpsc::Sender<Wish>) -> std::io::Result<()> {
    use tokio::signal::unix::{SignalKind, signal};
    for (name, kind) in [
        ("Ctrl-C", SignalKind::interrupt()),
        ("SIGTERM", SignalKind::terminate()),
        ("SIGHUP", SignalKind::hangup()),
    ] {
        let (mut signals, out) = (signal(kind)?, out.clone());
        tokio::spawn(async move {
            while signals.recv().await.is_some() && out.send(Wish::End(name)).await.is_ok() {}
        });
    }
    Ok(())
}

#[cfg(not(unix))]
fn tell_signals(out: &mpsc::Sender<Wish>) -> std::io::Result<()> {
    let out = out.clone();
    tokio::spawn(async move {
        while tokio::signal::ctrl_c().await.is_ok() && out.send(Wish::End("Ctrl-C")).await.is_ok() {}
    });
    Ok(())
}
