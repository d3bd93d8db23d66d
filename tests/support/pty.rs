//! A pseudo-terminal whose other end the test holds: a device that is no sensor box.

use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::thread::JoinHandle;
use std::time::Duration;

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

use crate::{Doing, Outcome};

/// The device's end of a line.
#[derive(Debug)]
pub struct Pty {
    master: std::fs::File,
    port: PathBuf,
}

impl Pty {
    /// A new line, on which nobody says anything yet.
    pub fn open() -> Outcome<Self> {
        let flags = OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC;
        let master = openpt(flags).doing(|| "open a pseudo-terminal".into())?;
        grantpt(&master).and_then(|()| unlockpt(&master)).doing(|| "unlock a pseudo-terminal".into())?;
        let name = ptsname(&master, Vec::new()).doing(|| "name a pseudo-terminal".into())?;
        let port = PathBuf::from(name.to_string_lossy().into_owned());
        // A host sets its end raw when it opens it; what was said before would be echoed back at us.
        let mut attributes = tcgetattr(&master).doing(|| "read the attributes of a line".into())?;
        attributes.make_raw();
        tcsetattr(&master, OptionalActions::Now, &attributes).doing(|| "make a line raw".into())?;
        Ok(Self { master: master.into(), port })
    }

    /// Where the host opens it.
    pub fn port(&self) -> &Path {
        &self.port
    }

    /// Says this again and again on a thread of its own, until nobody listens after somebody did, or for ten
    /// seconds.
    pub fn say_again_and_again(&self, bytes: &'static [u8]) -> Outcome<()> {
        let mut line = self.master.try_clone().doing(|| "have the line twice".into())?;
        std::thread::spawn(move || {
            for _ in 0..500 {
                if line.write_all(bytes).is_err() {
                    return;
                }
                std::thread::sleep(Duration::from_millis(20));
            }
        });
        Ok(())
    }

    /// Says this once, byte after byte a fifth of a millisecond apart, on a thread of its own.
    pub fn say_in_drips(&self, bytes: Vec<u8>) -> Outcome<JoinHandle<()>> {
        let mut line = self.master.try_clone().doing(|| "have the line twice".into())?;
        Ok(std::thread::spawn(move || {
            for byte in bytes {
                if line.write_all(&[byte]).is_err() {
                    return;
                }
                std::thread::sleep(Duration::from_micros(200));
            }
        }))
    }

    /// The device's end, for who speaks and hears by himself.
    pub fn into_device(self) -> std::fs::File {
        self.master
    }

    /// What the host has said until it closed its end.
    pub fn heard(mut self) -> Vec<u8> {
        let mut heard = Vec::new();
        // The end of a host that closed its side reads as an error, after everything that it said.
        let _ = self.master.read_to_end(&mut heard);
        heard
    }
}
