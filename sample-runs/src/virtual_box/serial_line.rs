//! The line to the host: a pseudo-terminal whose other end looks like a serial port, under a symlink.

use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{OFlags, fcntl_getfl, fcntl_setfl};
use rustix::io::Errno;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

use super::BoxError;

/// Wait between two looks at a port that nobody has open.
const NOBODY_WAIT: Duration = Duration::from_millis(2);

/// An open line. Dropping it is pulling the cable.
#[derive(Debug)]
pub(crate) struct SerialLine {
    master: OwnedFd,
    port: PathBuf,
}

/// What can be done on a line now.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Ready {
    /// Bytes from the host are there.
    pub(crate) readable: bool,
    /// There is room for bytes to the host.
    pub(crate) writable: bool,
    /// Nobody has the port open.
    pub(crate) nobody: bool,
}

impl SerialLine {
    /// Opens a new pseudo-terminal in raw mode.
    pub(crate) fn open() -> Result<Self, BoxError> {
        let failed = |action: &'static str| move |errno: Errno| BoxError::system(action, errno);
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)
            .map_err(failed("opening a pseudo-terminal"))?;
        grantpt(&master).map_err(failed("granting the pseudo-terminal"))?;
        unlockpt(&master).map_err(failed("unlocking the pseudo-terminal"))?;
        let name = ptsname(&master, Vec::new()).map_err(failed("naming the pseudo-terminal"))?;
        let port = PathBuf::from(name.to_string_lossy().into_owned());
        // Raw, or the kernel would echo the box's own frames back to it and turn 0x0D into 0x0A.
        let slave = rustix::fs::open(
            &port,
            OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC,
            rustix::fs::Mode::empty(),
        )
        .map_err(failed("opening the port once"))?;
        let mut modes = tcgetattr(&slave).map_err(failed("reading the port's modes"))?;
        modes.make_raw();
        tcsetattr(&slave, OptionalActions::Now, &modes).map_err(failed("setting the port raw"))?;
        // Only after its first closing does a port report that nobody has it open.
        drop(slave);
        let flags = fcntl_getfl(&master).map_err(failed("reading the flags of the pseudo-terminal"))?;
        fcntl_setfl(&master, flags | OFlags::NONBLOCK)
            .map_err(failed("setting the pseudo-terminal not to block"))?;
        Ok(Self { master, port })
    }

    /// Opens one and points the link to it, if there is a link.
    pub(crate) fn open_under(link: Option<&Link>) -> Result<Self, BoxError> {
        let line = Self::open()?;
        if let Some(link) = link {
            link.point_to(&line.port)?;
        }
        Ok(line)
    }

    /// Where a host finds the port: the link if there is one.
    pub(crate) fn path(&self, link: Option<&Link>) -> PathBuf {
        link.map_or(&self.port, |link| &link.path).clone()
    }

    /// Waits until something can be done, or `longest` has passed; `heard` is whether somebody had the port open.
    pub(crate) fn wait(&self, heard: bool, to_write: bool, mut longest: Duration) -> Result<Ready, BoxError> {
        if !heard {
            // A port that nobody has open reports so at once: waiting there would be a busy loop.
            std::thread::sleep(longest.min(NOBODY_WAIT));
            longest = Duration::ZERO;
        }
        let wanted = if to_write { PollFlags::IN | PollFlags::OUT } else { PollFlags::IN };
        let mut fds = [PollFd::new(&self.master, wanted)];
        let longest = Timespec {
            tv_sec: i64::try_from(longest.as_secs()).unwrap_or(i64::MAX),
            tv_nsec: i64::from(longest.subsec_nanos()),
        };
        match poll(&mut fds, Some(&longest)) {
            Ok(_) | Err(Errno::INTR) => {}
            Err(errno) => return Err(BoxError::system("waiting for the line", errno)),
        }
        let seen = fds.first().map_or(PollFlags::empty(), PollFd::revents);
        Ok(Ready {
            readable: seen.contains(PollFlags::IN),
            writable: seen.contains(PollFlags::OUT),
            nobody: seen.intersects(PollFlags::HUP | PollFlags::ERR),
        })
    }

    /// Reads what there is into `buffer`; 0 when there is nothing, or nobody.
    pub(crate) fn read(&self, buffer: &mut [u8]) -> Result<usize, BoxError> {
        bytes_moved("reading from the line", rustix::io::read(&self.master, buffer))
    }

    /// Writes as much of `bytes` as there is room for and returns how much that was.
    pub(crate) fn write(&self, bytes: &[u8]) -> Result<usize, BoxError> {
        bytes_moved("writing to the line", rustix::io::write(&self.master, bytes))
    }

    /// Bytes that the host has not read yet; `None` if that cannot be known, as when the host keeps others
    /// from opening the port.
    pub(crate) fn unread(&self) -> Option<u64> {
        let flags = OFlags::RDONLY | OFlags::NOCTTY | OFlags::CLOEXEC;
        let slave = rustix::fs::open(&self.port, flags, rustix::fs::Mode::empty()).ok()?;
        rustix::io::ioctl_fionread(&slave).ok()
    }
}

fn bytes_moved(action: &str, count: Result<usize, Errno>) -> Result<usize, BoxError> {
    match count {
        // EIO on the box's side says that nobody has the port open.
        Err(Errno::AGAIN | Errno::INTR | Errno::IO) => Ok(0),
        count => count.map_err(|errno| BoxError::system(action, errno)),
    }
}

/// A symlink that always points to the present port, as udev's links by serial number do.
#[derive(Debug)]
pub(crate) struct Link {
    path: PathBuf,
}

impl Link {
    /// A link at `path`, not made yet. Anything there that is no symlink is left alone.
    pub(crate) fn new(path: &Path) -> Result<Self, BoxError> {
        match std::fs::symlink_metadata(path) {
            Ok(found) if !found.file_type().is_symlink() => Err(BoxError::LinkTaken(path.to_owned())),
            _ => Ok(Self { path: path.to_owned() }),
        }
    }

    /// Points it to `port`, in one step: there is no moment at which it points nowhere.
    pub(crate) fn point_to(&self, port: &Path) -> Result<(), BoxError> {
        let failed = |cause| BoxError::system(format!("making the link {}", self.path.display()), cause);
        let mut beside = self.path.clone().into_os_string();
        beside.push(format!(".{}", std::process::id()));
        let beside = PathBuf::from(beside);
        let _ = std::fs::remove_file(&beside); // left over from a box that was killed, or not there
        std::os::unix::fs::symlink(port, &beside).map_err(failed)?;
        std::fs::rename(&beside, &self.path).map_err(failed)
    }

    /// Takes it away, as udev does when a device goes.
    pub(crate) fn remove(&self) {
        // If it is gone already, it is as it should be.
        let _ = std::fs::remove_file(&self.path);
    }
}

impl Drop for Link {
    fn drop(&mut self) {
        self.remove();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_link_replaces_a_link_but_never_a_file() {
        let folder = tempfile::tempdir().unwrap();
        let (file, link) = (folder.path().join("file"), folder.path().join("port"));
        std::fs::write(&file, "keep me").unwrap();
        assert!(matches!(Link::new(&file), Err(BoxError::LinkTaken { .. })));
        assert_eq!(std::fs::read_to_string(&file).unwrap(), "keep me");
        std::os::unix::fs::symlink("/nowhere", &link).unwrap();
        let made = Link::new(&link).unwrap();
        made.point_to(Path::new("/dev/null")).unwrap();
        assert_eq!(std::fs::read_link(&link).unwrap(), Path::new("/dev/null"));
        drop(made);
        assert!(std::fs::symlink_metadata(&link).is_err());
    }

    #[test]
    fn bytes_go_both_ways_unchanged_and_a_closed_port_is_seen() {
        use std::io::{Read, Write};
        let line = SerialLine::open().unwrap();
        let now = Duration::ZERO;
        assert!(line.wait(true, false, now).unwrap().nobody);
        let mut host = std::fs::OpenOptions::new().read(true).write(true).open(line.path(None)).unwrap();
        assert!(!line.wait(true, false, now).unwrap().nobody);
        let all: Vec<u8> = (0..=255).collect();
        assert_eq!(line.write(&all).unwrap(), 256);
        // The kernel hands the bytes over when it gets to it.
        let begun = std::time::Instant::now();
        while line.unread() != Some(256) {
            assert!(begun.elapsed() < Duration::from_secs(10), "{:?}", line.unread());
            std::thread::yield_now();
        }
        let mut back = [0u8; 256];
        host.read_exact(&mut back).unwrap();
        assert_eq!(back.as_slice(), all);
        assert_eq!(line.unread(), Some(0));
        assert!(!line.wait(true, false, now).unwrap().nobody, "looking must not look like a host that goes");
        host.write_all(&all).unwrap();
        assert!(line.wait(true, false, Duration::from_secs(1)).unwrap().readable);
        let mut got = [0u8; 512];
        assert_eq!(line.read(&mut got).unwrap(), 256);
        assert_eq!(&got[..256], all);
        drop(host);
        assert!(line.wait(true, false, now).unwrap().nobody);
    }
}
