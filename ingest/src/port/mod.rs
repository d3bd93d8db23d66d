//! Serial ports: opening them, and who else has them.
//!
//! All that the rest of the crate sees is a stream of bytes, so that tests can put another one there.

mod lock;
mod serve;

pub(crate) use lock::LockHolder;
pub use lock::PortLock;
pub(crate) use serve::{PortMessage, READ_BYTES, Served, ToPort, send, serve};

use crate::system;
use std::path::{Path, PathBuf};
use tokio::io::{AsyncRead, AsyncWrite};

/// Bytes to and from a box.
pub trait Link: AsyncRead + AsyncWrite + Unpin + Send {}
impl<T: AsyncRead + AsyncWrite + Unpin + Send> Link for T {}

/// The serial ports that can be opened: those of the computer, or simulated ones.
pub trait Ports: Send + Sync {
    /// Holds the name of a port for a whole run; `None` where nothing is there to be held.
    ///
    /// # Errors
    /// [`PortError::Busy`] if another process has it.
    fn claim(&self, port: &Path) -> Result<Option<PortLock>, PortError>;
    /// Opens a port.
    ///
    /// # Errors
    /// [`PortError`] says why not and what to do.
    fn open(&self, port: &Path, baud: u32) -> Result<OpenPort, PortError>;
    /// The ports that there are, for the end of a sentence that says that one is not; may be empty.
    fn others(&self) -> String {
        others()
    }
}

/// A port that is open and locked.
pub struct OpenPort {
    /// Its bytes.
    pub link: Box<dyn Link>,
    // Held for its lock only.
    _lock: Option<PortLock>,
}

impl OpenPort {
    /// A stream of bytes that needs no lock.
    #[must_use]
    pub fn unlocked(link: Box<dyn Link>) -> Self {
        Self { link, _lock: None }
    }
}

/// Why a port that is not there cannot be had.
pub(crate) const NO_SUCH_PORT: &str = "there is no such port";

/// Why a port cannot be opened.
#[derive(Debug, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum PortError {
    #[error("there is no port {}; {others}", port.display())]
    Missing { port: PathBuf, others: String },
    #[error("port {} is busy: {holder} has it; end that program or name another port", port.display())]
    Busy { port: PathBuf, holder: String },
    #[error(
        "port {} may not be opened by this user: on most systems members of the group \"dialout\" may",
        .0.display()
    )]
    NotPermitted(PathBuf),
    #[error("{} is not a serial port; {others}", port.display())]
    NotAPort { port: PathBuf, others: String },
    #[error("port {} cannot be opened: {cause}", port.display())]
    Other { port: PathBuf, cause: String },
}

impl PortError {
    /// Why the port cannot be had yet, for the end of a sentence that names it.
    pub(crate) fn why(&self) -> String {
        match self {
            Self::Missing { .. } => NO_SUCH_PORT.to_owned(),
            Self::Busy { holder, .. } => format!("{holder} has it"),
            Self::NotPermitted(_) => {
                "this user may not open it: on most systems members of the group \"dialout\" may".to_owned()
            }
            Self::NotAPort { .. } => "it is not a serial port".to_owned(),
            Self::Other { cause, .. } => format!("it cannot be opened ({cause})"),
        }
    }
}

/// A serial port of this computer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PortHere {
    /// Its name, as it is opened.
    pub name: String,
    /// What the system says is plugged in there: maker, product and serial number of a USB device.
    pub device: Option<String>,
}

/// The serial ports of this computer, by name.
#[must_use]
pub fn ports_here() -> Vec<PortHere> {
    // The crate below panics where this folder is missing, as in some containers.
    if cfg!(target_os = "linux") && !Path::new("/sys/class/tty").is_dir() {
        return Vec::new();
    }
    // A system that cannot list its ports shows none; one that is named is opened all the same.
    let ports = tokio_serial::available_ports().unwrap_or_default().into_iter();
    let mut ports: Vec<_> =
        ports.map(|port| PortHere { device: device_text(&port.port_type), name: port.port_name }).collect();
    ports.sort_by(|a, b| a.name.cmp(&b.name));
    ports.dedup_by(|a, b| a.name == b.name);
    ports
}

fn device_text(kind: &tokio_serial::SerialPortType) -> Option<String> {
    match kind {
        tokio_serial::SerialPortType::UsbPort(usb) => {
            let words = [&usb.manufacturer, &usb.product, &usb.serial_number].into_iter().flatten();
            let text: Vec<&str> = words.map(|word| word.trim()).filter(|word| !word.is_empty()).collect();
            let text: String = text.join(" ").chars().filter(|c| !c.is_control()).take(80).collect();
            Some(if text.is_empty() { format!("USB device {:04x}:{:04x}", usb.vid, usb.pid) } else { text })
        }
        tokio_serial::SerialPortType::BluetoothPort => Some("Bluetooth".to_owned()),
        tokio_serial::SerialPortType::PciPort | tokio_serial::SerialPortType::Unknown => None,
    }
}

/// What to say when there is no serial port at all.
pub const NO_PORT_HERE: &str = "this computer has no serial port now: is the cable plugged in?";

/// The ports that there are, for the end of a sentence.
pub(crate) fn others() -> String {
    let names: Vec<_> = ports_here().into_iter().map(|port| port.name).collect();
    if names.is_empty() {
        return NO_PORT_HERE.to_owned();
    }
    format!(
        "there are: {}; plug its cable into this computer, or name another port: `hitchwright ports` tells which has a box",
        names.join(", ")
    )
}

/// The error for a port that is locked.
fn busy(port: &Path, holder: LockHolder) -> PortError {
    let holder = holder.by.map_or_else(
        || "another program".to_owned(),
        |pid| {
            // Where the system has this folder, it knows the program's name as well.
            let name = std::fs::read_to_string(format!("/proc/{pid}/comm")).unwrap_or_default();
            let name: String = name.trim().chars().filter(|c| !c.is_control()).collect();
            if name.is_empty() { format!("process {pid}") } else { format!("process {pid} ({name})") }
        },
    );
    PortError::Busy { port: port.to_owned(), holder }
}

/// Locks a port by the name that it was given, made absolute, for two programs may stand in different
/// folders. A port that is not there is not worth a lock.
pub(crate) fn lock_name(port: &Path) -> Result<Option<PortLock>, PortError> {
    if !port.exists() {
        return Ok(None);
    }
    let name = std::path::absolute(port).unwrap_or_else(|_| port.to_owned());
    PortLock::take(&name).map(Some).map_err(|holder| busy(port, holder))
}

/// Opens a port. A path that is a link is followed anew each time: a cable that was put back in may
/// have another device behind the same name.
pub(crate) fn open_port(port: &Path, baud: u32) -> Result<OpenPort, PortError> {
    let owned = || port.to_owned();
    let device = port.canonicalize().map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => PortError::Missing { port: owned(), others: others() },
        std::io::ErrorKind::PermissionDenied => PortError::NotPermitted(owned()),
        _ => PortError::Other { port: owned(), cause: error.to_string() },
    })?;
    // The recorder holds the lock of the name that it was given, made absolute; behind a link is another to
    // hold.
    let behind_a_link = std::path::absolute(port).ok().as_ref() != Some(&device);
    let lock =
        behind_a_link.then(|| PortLock::take(&device)).transpose().map_err(|holder| busy(port, holder))?;
    // The exclusive mode of a pseudo-terminal outlives a reader that was killed and would lock out the
    // next one; for those our own lock must do.
    let exclusive = !device.starts_with("/dev/pts");
    let builder = system::exclusive(tokio_serial::new(device.to_string_lossy(), baud), exclusive);
    match tokio_serial::SerialStream::open(&builder) {
        Ok(stream) => Ok(OpenPort { link: Box::new(stream), _lock: lock }),
        Err(error) => Err(open_error(port, &error)),
    }
}

fn open_error(port: &Path, error: &tokio_serial::Error) -> PortError {
    use std::io::ErrorKind as Io;
    use tokio_serial::ErrorKind as Serial;
    let (port, text) = (port.to_owned(), error.to_string());
    match error.kind() {
        Serial::Io(Io::PermissionDenied) => PortError::NotPermitted(port),
        Serial::Io(Io::NotFound) => PortError::Missing { port, others: others() },
        Serial::Io(Io::ResourceBusy) => busy(&port, LockHolder { by: None }),
        // Its text is the only sign that the lock failed and not the device.
        Serial::NoDevice if text.contains("exclusive lock") || text.to_lowercase().contains("busy") => {
            busy(&port, LockHolder { by: None })
        }
        // ENOTTY: a file, or a device of another kind.
        _ if text.contains("Not a typewriter") => PortError::NotAPort { port, others: others() },
        _ => PortError::Other { port, cause: text },
    }
}

/// What runs the tasks of ports, on the thread that waits for them.
pub(crate) fn runtime() -> std::io::Result<tokio::runtime::Runtime> {
    tokio::runtime::Builder::new_current_thread().enable_all().build()
}

#[cfg(test)]
mod tests {
    use super::*;
    use tokio_serial::{Error, ErrorKind, SerialPortType, UsbPortInfo};

    /// The words of the systems are those that the crate below passes on.
    #[test]
    fn a_port_that_cannot_be_opened_is_told_apart_by_what_the_system_says() {
        let said =
            |kind, text: &str| open_error(Path::new("/dev/ttyX7"), &Error::new(kind, text)).to_string();
        let busy = "port /dev/ttyX7 is busy: another program has it; end that program or name another port";
        for text in ["Unable to acquire exclusive lock on serial port", "Device or resource busy"] {
            assert_eq!(said(ErrorKind::NoDevice, text), busy);
        }
        assert_eq!(said(ErrorKind::Io(std::io::ErrorKind::ResourceBusy), "x"), busy);
        let kind = |kind| said(ErrorKind::Io(kind), "x");
        assert!(kind(std::io::ErrorKind::PermissionDenied).contains("\"dialout\""));
        assert!(kind(std::io::ErrorKind::NotFound).starts_with("there is no port /dev/ttyX7; "));
        let not_a_port = said(ErrorKind::Unknown, "Not a typewriter");
        assert!(not_a_port.starts_with("/dev/ttyX7 is not a serial port; "), "{not_a_port}");
        assert_eq!(
            said(ErrorKind::NoDevice, "No such device"),
            "port /dev/ttyX7 cannot be opened: No such device"
        );
    }

    /// What a device says of itself must not move the cursor, nor fill the screen.
    #[test]
    fn a_device_is_named_by_what_it_says_or_by_its_numbers() {
        let usb = |manufacturer: Option<&str>, product: Option<&str>, serial: Option<&str>| {
            let text = |text: Option<&str>| text.map(str::to_owned);
            device_text(&SerialPortType::UsbPort(UsbPortInfo {
                vid: 0x1209,
                pid: 0x1,
                serial_number: text(serial),
                manufacturer: text(manufacturer),
                product: text(product),
            }))
        };
        assert_eq!(usb(Some(" invented "), Some("box"), Some("7")).as_deref(), Some("invented box 7"));
        assert_eq!(usb(None, Some("  "), None).as_deref(), Some("USB device 1209:0001"));
        assert_eq!(usb(Some("\x1b[2J"), None, None).as_deref(), Some("[2J"));
        assert_eq!(usb(None, Some(&"x".repeat(500)), None).map(|text| text.len()), Some(80));
        assert_eq!(device_text(&SerialPortType::BluetoothPort).as_deref(), Some("Bluetooth"));
        assert_eq!(device_text(&SerialPortType::Unknown), None);
    }

    #[test]
    fn the_holder_of_a_port_is_named_as_far_as_it_is_known() {
        let said = |by| busy(Path::new("p"), LockHolder { by }).to_string();
        assert!(said(None).contains("another program has it"));
        let own = std::process::id();
        assert!(said(Some(own)).contains(&format!("process {own} (")), "{}", said(Some(own)));
        // No process has this number: it ended since it wrote it.
        assert!(said(Some(u32::MAX)).contains(&format!("process {} has it", u32::MAX)));
    }
}
