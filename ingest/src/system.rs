//! What one kind of system has and another has not. All of it is here and in the same file of the seat, so that the rest is
//! the same everywhere; `/proc` and `/sys` are looked into elsewhere too, where a system without them has nothing to say.

use std::fs::{DirBuilder, Metadata, OpenOptions};
use std::io;
use tokio_serial::SerialPortBuilder;

/// Which file or folder it is, whatever its name.
pub(crate) type Identity = (u64, u64);

#[cfg(unix)]
pub(crate) fn identity(about: &Metadata) -> Identity {
    use std::os::unix::fs::MetadataExt;
    (about.dev(), about.ino())
}

/// Elsewhere what is open cannot be deleted, so a name is enough.
#[cfg(not(unix))]
pub(crate) fn identity(_: &Metadata) -> Identity {
    (0, 0)
}

/// A port that no other program may open meanwhile, where that has to be asked for.
#[cfg(unix)]
pub(crate) fn exclusive(port: SerialPortBuilder, exclusive: bool) -> SerialPortBuilder {
    port.exclusive(exclusive)
}

/// Elsewhere no port is open twice.
#[cfg(not(unix))]
pub(crate) fn exclusive(port: SerialPortBuilder, _: bool) -> SerialPortBuilder {
    port
}

/// A signal that asks a program to end, or to begin anew.
#[derive(Debug)]
pub struct Signal {
    /// What it is called.
    pub name: &'static str,
    #[cfg(unix)]
    signal: tokio::signal::unix::Signal,
}

impl Signal {
    /// Those that there are: Ctrl-C, and where a system has them SIGTERM and SIGHUP.
    ///
    /// # Errors
    /// If the system gives no signal handler.
    #[cfg(unix)]
    pub fn all() -> io::Result<Vec<Self>> {
        use tokio::signal::unix::{SignalKind, signal};
        let kinds = [
            ("Ctrl-C", SignalKind::interrupt()),
            ("SIGTERM", SignalKind::terminate()),
            ("SIGHUP", SignalKind::hangup()),
        ];
        kinds.into_iter().map(|(name, kind)| Ok(Self { name, signal: signal(kind)? })).collect()
    }

    /// Those that there are.
    ///
    /// # Errors
    /// None here.
    #[cfg(not(unix))]
    pub fn all() -> io::Result<Vec<Self>> {
        Ok(vec![Self { name: "Ctrl-C" }])
    }

    /// Waits for it; whether it came, and can come again.
    #[cfg(unix)]
    pub async fn comes(&mut self) -> bool {
        self.signal.recv().await.is_some()
    }

    /// Waits for it; whether it came, and can come again.
    #[cfg(not(unix))]
    pub async fn comes(&mut self) -> bool {
        tokio::signal::ctrl_c().await.is_ok()
    }
}

/// A file that is made by these can be read by its owner alone, where a system knows of that.
pub fn for_owner_alone(options: &mut OpenOptions) {
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(options, 0o600);
    #[cfg(not(unix))]
    let _ = options;
}

/// A folder that is made by it can be looked into by its owner alone, where a system knows of that.
pub fn folder_for_owner_alone(builder: &mut DirBuilder) {
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(builder, 0o700);
    #[cfg(not(unix))]
    let _ = builder;
}

/// Whether a file may be run as a program.
pub fn may_run(about: &Metadata) -> bool {
    #[cfg(unix)]
    let may = std::os::unix::fs::PermissionsExt::mode(&about.permissions()) & 0o111 != 0;
    #[cfg(not(unix))]
    let may = true;
    may && about.is_file()
}
