//! One recorder a port: a lock that the system drops with the process.
//!
//! The terminal's own exclusive mode does not stop root, and on a pseudo-terminal it outlives a reader
//! that was killed. So a lock file stands beside it, in the folder for temporary files, named from the
//! port and holding the process id of its owner for the message.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

/// A lock that is held until it is dropped.
#[derive(Debug)]
pub struct PortLock {
    // Held for its lock only.
    _file: Option<File>,
}

/// Another process has the port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LockHolder {
    /// Its process id, if it is known.
    pub by: Option<u32>,
}

impl PortLock {
    /// Locks a port by its path.
    ///
    /// A folder for temporary files that cannot be used is no error: the terminal's own lock is then all there is.
    pub fn take(port: &Path) -> Result<Self, LockHolder> {
        Self::take_in(&std::env::temp_dir(), port)
    }

    fn take_in(folder: &Path, port: &Path) -> Result<Self, LockHolder> {
        let path = lock_path(folder, port);
        // Reading is enough for a lock, and all that is allowed when another user made the file.
        let file = File::open(&path).or_else(|_| {
            let made = OpenOptions::new().write(true).create_new(true).open(&path);
            made.and_then(|_| File::open(&path))
        });
        let Ok(file) = file else { return Ok(Self { _file: None }) };
        match file.try_lock() {
            Ok(()) => {
                // Only for the message of the next one; the lock does not need it.
                let _ = OpenOptions::new()
                    .write(true)
                    .truncate(true)
                    .open(&path)
                    .and_then(|mut file| file.write_all(std::process::id().to_string().as_bytes()));
                Ok(Self { _file: Some(file) })
            }
            Err(TryLockError::WouldBlock) => {
                let mut text = String::new();
                let _ = (&file).take(20).read_to_string(&mut text);
                Err(LockHolder { by: text.trim().parse().ok() })
            }
            Err(TryLockError::Error(_)) => Ok(Self { _file: None }),
        }
    }
}

/// A file name that is different for different paths: bytes other than letters, digits and `.` are
/// written as `_` and two hexadecimal digits.
fn lock_path(folder: &Path, port: &Path) -> PathBuf {
    let mut name = String::from("hitchwright-port");
    for byte in port.as_os_str().as_encoded_bytes() {
        if byte.is_ascii_alphanumeric() || *byte == b'.' {
            name.push(char::from(*byte));
        } else {
            name.push_str(&format!("_{byte:02x}"));
        }
    }
    // A path too long for a file name keeps its end, where paths differ.
    let from = name.len().saturating_sub(200);
    folder.join(format!("{}.lock", name.get(from..).unwrap_or(&name)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lock_is_exclusive_names_its_holder_and_ends_with_it() {
        let folder = tempfile::tempdir().unwrap();
        let port = Path::new("/dev/ttyUSB0");
        let first = PortLock::take_in(folder.path(), port).unwrap();
        let second = PortLock::take_in(folder.path(), port).unwrap_err();
        assert_eq!(second.by, Some(std::process::id()));
        assert!(PortLock::take_in(folder.path(), Path::new("/dev/ttyUSB1")).is_ok());
        drop(first);
        assert!(PortLock::take_in(folder.path(), port).is_ok());
    }

    #[test]
    fn different_ports_have_different_locks() {
        let folder = Path::new("t");
        assert_ne!(lock_path(folder, Path::new("/dev/a_2fb")), lock_path(folder, Path::new("/dev/a/b")));
        assert_ne!(lock_path(folder, Path::new("/dev/a-b")), lock_path(folder, Path::new("/dev/a_b")));
    }

    /// The terminal's own lock is then all there is.
    #[test]
    fn without_a_folder_for_locks_a_port_can_be_used_all_the_same() {
        let folder = tempfile::tempdir().unwrap();
        let none = folder.path().join("none");
        let held = PortLock::take_in(&none, Path::new("/dev/ttyUSB0")).unwrap();
        assert!(held._file.is_none());
        assert!(PortLock::take_in(&none, Path::new("/dev/ttyUSB0")).is_ok());
    }
}
