//! What the service manager is told: datagrams to `NOTIFY_SOCKET`, as sd_notify(3) of systemd describes them.

use std::io;
use std::time::{Duration, Instant};

/// Longest line of status, in characters.
const STATUS_CHARS_MAX: usize = 200;

/// Tells the service manager how it goes; without one, nobody.
#[derive(Debug)]
pub struct Notify {
    socket: Option<Socket>,
    /// How often it must hear that the recorder's loop is alive.
    watchdog: Option<Duration>,
    last_alive: Option<Instant>,
    status: String,
    is_ready: bool,
    /// What the manager's queue had no room for is said again.
    ready_due: bool,
    status_due: bool,
}

impl Notify {
    /// To the manager that started this process, if there is one.
    #[must_use]
    pub fn to_manager() -> Self {
        let variable = |name: &str| std::env::var(name).ok();
        let for_us = variable("WATCHDOG_PID").is_none_or(|pid| pid == std::process::id().to_string());
        let every_us = variable("WATCHDOG_USEC").and_then(|text| text.parse::<u64>().ok());
        let watchdog = every_us.filter(|us| for_us && *us > 0).map(Duration::from_micros);
        Self::to(variable("NOTIFY_SOCKET").as_deref(), watchdog)
    }

    /// To the socket of this name, a path or `@` and an abstract name; a manager that has a `watchdog` must hear that the
    /// loop is alive within it.
    #[must_use]
    pub fn to(socket: Option<&str>, watchdog: Option<Duration>) -> Self {
        Self::with(socket.and_then(|name| Socket::to(name).ok()), watchdog)
    }

    fn with(socket: Option<Socket>, watchdog: Option<Duration>) -> Self {
        Self {
            socket,
            watchdog,
            last_alive: None,
            status: String::new(),
            is_ready: false,
            ready_due: false,
            status_due: false,
        }
    }

    /// The recorder waits for its boxes, or stands by: what is started after it may start.
    pub fn ready(&mut self) {
        if !std::mem::replace(&mut self.is_ready, true) {
            self.ready_due = self.send("READY=1").is_err();
        }
    }

    /// How it goes, in one line.
    pub fn status(&mut self, line: &str) {
        let plain = line.chars().map(|c| if c.is_control() { ' ' } else { c });
        let line: String = plain.take(STATUS_CHARS_MAX).collect();
        if line != self.status {
            self.status_due = self.send(&format!("STATUS={line}")).is_err();
            self.status = line;
        }
    }

    /// The loop of the recorder is alive: called from that loop and from nowhere else, so that the manager ends a
    /// recorder whose loop hangs. Says so at most four times in the time that the manager allows.
    pub fn alive(&mut self) {
        if self.ready_due {
            self.ready_due = self.send("READY=1").is_err();
        }
        if self.status_due {
            self.status_due = self.send(&format!("STATUS={}", self.status)).is_err();
        }
        let Some(watchdog) = self.watchdog else { return };
        let now = Instant::now();
        if self.last_alive.is_none_or(|last| now.duration_since(last) >= watchdog / 4)
            && self.send("WATCHDOG=1").is_ok()
        {
            self.last_alive = Some(now);
        }
    }

    /// The end was asked for.
    pub fn stopping(&mut self) {
        // The manager asked for it, and waits for the end of the process in any case.
        let _ = self.send("STOPPING=1");
    }

    fn send(&self, message: &str) -> io::Result<()> {
        match &self.socket {
            Some(socket) => match socket.send(message.as_bytes()) {
                // A queue that is full is tried again; a manager that is gone is not waited for.
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => Err(error),
                _ => Ok(()),
            },
            None => Ok(()),
        }
    }
}

#[cfg(target_os = "linux")]
#[derive(Debug)]
struct Socket {
    socket: std::os::unix::net::UnixDatagram,
    to: std::os::unix::net::SocketAddr,
}

#[cfg(target_os = "linux")]
impl Socket {
    /// A path, or with an `@` before it a name in the abstract namespace.
    fn to(name: &str) -> io::Result<Self> {
        use std::os::linux::net::SocketAddrExt;
        use std::os::unix::net::{SocketAddr, UnixDatagram};
        let to = match name.strip_prefix('@') {
            Some(name) => SocketAddr::from_abstract_name(name.as_bytes())?,
            None => SocketAddr::from_pathname(name)?,
        };
        let socket = UnixDatagram::unbound()?;
        // A manager that does not read must not hold up the recorder.
        socket.set_nonblocking(true)?;
        Ok(Self { socket, to })
    }

    fn send(&self, message: &[u8]) -> io::Result<()> {
        self.socket.send_to_addr(message, &self.to).map(|_| ())
    }
}

/// Other systems have no such manager.
#[cfg(not(target_os = "linux"))]
#[derive(Debug)]
struct Socket;

#[cfg(not(target_os = "linux"))]
impl Socket {
    fn to(_name: &str) -> io::Result<Self> {
        Err(io::ErrorKind::Unsupported.into())
    }

    fn send(&self, _message: &[u8]) -> io::Result<()> {
        Ok(())
    }
}

#[cfg(all(test, target_os = "linux"))]
#[allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]
mod tests {
    use super::*;
    use std::os::linux::net::SocketAddrExt;
    use std::os::unix::net::{SocketAddr, UnixDatagram};

    fn heard(manager: &UnixDatagram) -> Vec<String> {
        manager.set_nonblocking(true).unwrap();
        let mut said = Vec::new();
        let mut buffer = [0; 1024];
        while let Ok(length) = manager.recv(&mut buffer) {
            said.push(String::from_utf8(buffer[..length].to_vec()).unwrap());
        }
        said
    }

    #[test]
    fn a_path_and_an_abstract_name_are_reached_and_each_thing_is_said_once() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notify");
        let by_path = UnixDatagram::bind(&path).unwrap();
        let name = format!("hitchwright-test-{}", std::process::id());
        let by_name = UnixDatagram::bind_addr(&SocketAddr::from_abstract_name(&name).unwrap()).unwrap();
        for (manager, address) in
            [(by_path, path.to_string_lossy().into_owned()), (by_name, format!("@{name}"))]
        {
            let socket = Socket::to(&address).unwrap();
            let mut notify = Notify::with(Some(socket), Some(Duration::from_secs(3600)));
            notify.status("waits for\nREADY=1");
            notify.ready();
            notify.ready();
            notify.status("waits for\nREADY=1");
            notify.alive();
            notify.alive();
            notify.stopping();
            let expected = ["STATUS=waits for READY=1", "READY=1", "WATCHDOG=1", "STOPPING=1"];
            assert_eq!(heard(&manager), expected, "{address}");
        }
    }

    /// A manager that is slow: the recorder is not held up, and what it must know it hears later.
    #[test]
    fn a_full_queue_holds_nobody_up_and_loses_no_ready() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notify");
        let manager = UnixDatagram::bind(&path).unwrap();
        let mut notify = Notify::with(Socket::to(path.to_str().unwrap()).ok(), Some(Duration::ZERO));
        (0..5000).for_each(|_| notify.alive());
        notify.ready();
        notify.status("stands by");
        let before = heard(&manager);
        assert!(before.len() < 5000 && !before.contains(&"READY=1".to_owned()), "{}", before.len());
        notify.alive();
        assert_eq!(heard(&manager), ["READY=1", "STATUS=stands by", "WATCHDOG=1"]);
        drop(manager);
        notify.alive();
    }

    #[test]
    fn nobody_to_tell_is_no_error() {
        let mut notify = Notify::with(None, None);
        notify.ready();
        notify.alive();
        notify.stopping();
        assert!(Socket::to(&"x".repeat(300)).is_err());
    }
}
