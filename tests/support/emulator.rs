//! The reference firmware of `firmware-protocol/c/firmware/`, built and run in a system emulator, its UART on a
//! pseudo-terminal.

use std::fs::{File, OpenOptions};
use std::io::{ErrorKind, Read, Write};
use std::os::unix::fs::{OpenOptionsExt, symlink};
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Duration;

use firmware_protocol::{Decoder, Event, Frame, encode};

use crate::field::Field;
use crate::process::{Running, wait_until};
use crate::{Doing, Failure, Outcome};

/// Longest that anything may take to happen in the emulator: a computer that is busy makes it slow.
pub const LONG: Duration = Duration::from_secs(90);
/// Debian's packages with the compiler and the emulator.
const PACKAGES: &str = "Debian: apt install gcc-arm-none-eabi qemu-system-arm";
const EMULATOR: &str = "qemu-system-arm";
/// The emulated board; its time is counted in instructions of 128 ns each, and held back to real time. A processor
/// that goes by the host's clock instead misses interrupts whenever the host has no time for it.
const BOARD: &str = "-M lm3s6965evb -icount shift=7,align=on -display none -serial pty";
/// What the emulator calls the button of the firmware.
const BUTTON: &str = "up";

/// The folder `firmware-protocol/c/`.
pub fn c_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../firmware-protocol/c")
}

/// Runs a tool to its end and gives what it wrote.
///
/// # Errors
/// If it is not installed: with the packages that have it; if it fails: with what it said.
pub fn run_tool(command: &mut Command, packages: &str) -> Outcome<String> {
    let name = command.get_program().to_string_lossy().into_owned();
    let output = command.output().map_err(|error| match error.kind() {
        ErrorKind::NotFound => Failure(format!("`{name}` is not installed; {packages}")),
        _ => Failure(format!("`{name}` does not run: {error}")),
    })?;
    if output.status.success() {
        return Ok(String::from_utf8_lossy(&output.stdout).into_owned());
    }
    let said = String::from_utf8_lossy(&output.stderr);
    let advice = if said.contains("not found") { packages } else { "" };
    Err(Failure(format!("{command:?} failed; {advice}\n{said}")))
}

/// Builds the firmware with these options of the compiler.
pub fn build_firmware(out: &Path, options: &[&str]) -> Outcome<()> {
    let mut command = Command::new("sh");
    command.arg(c_folder().join("firmware/build.sh")).arg(out).args(options);
    run_tool(&mut command, PACKAGES).map(|_| ())
}

/// A running box; it ends with this value.
#[derive(Debug)]
pub struct Emulator {
    pub running: Running,
    monitor: UnixStream,
    port: PathBuf,
}

impl Emulator {
    /// Builds the firmware with these options and starts it; the field's port leads to its UART.
    pub fn start(field: &Field, options: &[&str]) -> Outcome<Self> {
        let firmware = field.path("firmware.elf");
        build_firmware(&firmware, options)?;
        let monitor = field.path("monitor");
        let mut command = Command::new(EMULATOR);
        command.args(BOARD.split(' ')).arg("-kernel").arg(&firmware);
        command.arg("-monitor").arg(format!("unix:{},server=on,wait=off", monitor.display()));
        let started = Running::spawn(EMULATOR, command, Stdio::null());
        let mut running = started.map_err(|failure| Failure(format!("{failure}; {PACKAGES}")))?;
        let line = running.wait_for_line("/dev/pts/", LONG)?;
        let port = line.split_whitespace().find(|word| word.starts_with("/dev/pts/")).map(PathBuf::from);
        let port = port.ok_or_else(|| Failure(format!("no port in {line:?}")))?;
        symlink(&port, field.port()).doing(|| "link to the emulator's port".into())?;
        let monitor = UnixStream::connect(&monitor).doing(|| "reach the emulator's monitor".into())?;
        Ok(Self { running, monitor, port })
    }

    /// Opens the box's line; it may be open elsewhere as well.
    pub fn line(&self) -> Outcome<EmulatedLine> {
        let flags = rustix::fs::OFlags::NONBLOCK | rustix::fs::OFlags::NOCTTY;
        let flags = i32::try_from(flags.bits()).doing(|| "open a port without waiting".into())?;
        let mut options = OpenOptions::new();
        let options = options.read(true).write(true).custom_flags(flags);
        let file = options.open(&self.port).doing(|| format!("open {}", self.port.display()))?;
        Ok(EmulatedLine { file, decoder: Decoder::new(), bytes: Vec::new(), frames: Vec::new() })
    }

    fn tell(&mut self, order: &str) -> Outcome<()> {
        writeln!(self.monitor, "{order}").doing(|| format!("tell the emulator {order:?}"))
    }

    /// Presses the button and lets it go.
    pub fn press_button(&mut self) -> Outcome<()> {
        self.tell(&format!("sendkey {BUTTON}"))
    }

    /// Resets the box; its RAM stays as it is.
    pub fn reset(&mut self) -> Outcome<()> {
        self.tell("system_reset")
    }
}

/// The host's end of the box's line.
#[derive(Debug)]
pub struct EmulatedLine {
    file: File,
    decoder: Decoder,
    /// All bytes that have come so far.
    pub bytes: Vec<u8>,
    pub frames: Vec<Frame>,
}

impl EmulatedLine {
    pub fn send_bytes(&mut self, bytes: &[u8]) -> Outcome<()> {
        self.file.write_all(bytes).doing(|| "write to the box".into())
    }

    pub fn send(&mut self, frame: &Frame) -> Outcome<()> {
        self.send_bytes(encode(frame).as_bytes())
    }

    /// Takes what has come.
    fn take(&mut self) -> Outcome<()> {
        let mut buffer = [0; 4096];
        loop {
            let length = match self.file.read(&mut buffer) {
                Ok(length) => length,
                Err(error) if error.kind() == ErrorKind::WouldBlock => return Ok(()),
                Err(error) => return Err(Failure(format!("could not read from the box: {error}"))),
            };
            let mut bytes = buffer.get(..length).unwrap_or(&[]);
            if bytes.is_empty() {
                return Err(Failure("the box has hung up".into()));
            }
            self.bytes.extend_from_slice(bytes);
            while let Some(event) = self.decoder.next_event(&mut bytes) {
                if let Event::Frame(frame) = event {
                    self.frames.push(frame);
                }
            }
        }
    }

    /// Waits until `found` finds something in the frames from number `from` on.
    pub fn wait_for<T>(
        &mut self,
        what: &str,
        from: usize,
        found: impl Fn(&[Frame]) -> Option<T>,
    ) -> Outcome<T> {
        let waited = wait_until(what, LONG, || {
            self.take()?;
            Ok(found(self.frames.get(from..).unwrap_or(&[])))
        });
        waited.map_err(|failure| {
            let shortened = |frame| format!("{frame:?}").chars().take(100).collect::<String>();
            let last: Vec<_> = self.frames.iter().rev().take(5).map(shortened).collect();
            Failure(format!("{failure}; {} frames came, at last {}", self.frames.len(), last.join("\n")))
        })
    }
}
