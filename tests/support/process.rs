//! Running programs with time limits; each is ended by its own process number when it goes out of scope.

use std::ffi::OsStr;
use std::io::{BufRead, BufReader, Read, Write};
use std::os::unix::process::ExitStatusExt;
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::thread;
use std::time::{Duration, Instant};

pub use rustix::process::Signal;
use rustix::process::{Pid, kill_process};

use crate::binaries::Program;
use crate::{Doing, Failure, Outcome};

/// How often something that may come at any time is looked for.
const LOOK_EVERY: Duration = Duration::from_millis(5);

/// Which output a line came on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stream {
    Out,
    Err,
}

#[derive(Debug)]
pub struct Running {
    name: &'static str,
    child: Child,
    /// Where lines for it go, if it is one to talk with.
    stdin: Option<ChildStdin>,
    lines: Receiver<(Stream, String)>,
    stdout: String,
    stderr: String,
}

/// How a program ended and what it said.
#[derive(Clone, Debug)]
pub struct Ended {
    /// Exit status, or the signal that ended it.
    pub status: ExitStatus,
    pub stdout: String,
    pub stderr: String,
}

impl Ended {
    /// Demands an exit status.
    pub fn expect_code(self, code: i32) -> Outcome<Self> {
        if self.status.code() == Some(code) {
            return Ok(self);
        }
        let signal = self.status.signal().map(|n| format!(" (signal {n})")).unwrap_or_default();
        Err(Failure(format!(
            "exit status {:?}{signal}, not {code}\nstdout:\n{}\nstderr:\n{}",
            self.status.code(),
            self.stdout,
            self.stderr
        )))
    }
}

fn forward(stream: Stream, from: impl Read + Send + 'static, to: std::sync::mpsc::Sender<(Stream, String)>) {
    thread::spawn(move || {
        let mut from = BufReader::new(from);
        let mut line = Vec::new();
        // Bytes, for a program under test may write what is no UTF-8.
        while matches!(from.read_until(b'\n', &mut line), Ok(n) if n > 0) {
            let text = String::from_utf8_lossy(&line).into_owned();
            if to.send((stream, text)).is_err() {
                return;
            }
            line.clear();
        }
    });
}

impl Running {
    /// Starts a program with these arguments, nothing on its standard input.
    pub fn start(program: Program, args: impl IntoIterator<Item = impl AsRef<OsStr>>) -> Outcome<Self> {
        let mut command = Command::new(program.path()?);
        command.args(args);
        Self::spawn(program.name(), command, Stdio::null())
    }

    /// Starts a program that is talked with: see [`Running::say`].
    pub fn start_talking(
        program: Program,
        args: impl IntoIterator<Item = impl AsRef<OsStr>>,
    ) -> Outcome<Self> {
        let mut command = Command::new(program.path()?);
        command.args(args);
        Self::spawn(program.name(), command, Stdio::piped())
    }

    /// Starts any command, as a program of this name, with this on its standard input.
    pub fn spawn(name: &'static str, mut command: Command, stdin: Stdio) -> Outcome<Self> {
        command.stdin(stdin).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().doing(|| format!("start {name}"))?;
        let (to, lines) = channel();
        if let Some(out) = child.stdout.take() {
            forward(Stream::Out, out, to.clone());
        }
        if let Some(err) = child.stderr.take() {
            forward(Stream::Err, err, to);
        }
        let stdin = child.stdin.take();
        Ok(Self { name, child, stdin, lines, stdout: String::new(), stderr: String::new() })
    }

    /// Says a line to it.
    pub fn say(&mut self, line: &str) -> Outcome<()> {
        let name = self.name;
        let stdin = self.stdin.as_mut().ok_or_else(|| Failure(format!("{name} hears nothing")))?;
        let said = stdin.write_all(format!("{line}\n").as_bytes()).and_then(|()| stdin.flush());
        said.doing(|| format!("say {line:?} to {name}"))
    }

    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    fn store(&mut self, (stream, line): (Stream, String)) {
        match stream {
            Stream::Out => self.stdout.push_str(&line),
            Stream::Err => self.stderr.push_str(&line),
        }
    }

    fn said(&self) -> String {
        format!("{} said so far:\nstdout:\n{}\nstderr:\n{}", self.name, self.stdout, self.stderr)
    }

    /// Waits until it writes a line with `part` in it, on either output.
    pub fn wait_for_line(&mut self, part: &str, at_most: Duration) -> Outcome<String> {
        let end = Instant::now() + at_most;
        loop {
            match self.lines.recv_timeout(end.saturating_duration_since(Instant::now())) {
                Ok(line) => {
                    let found = line.1.contains(part).then(|| line.1.clone());
                    self.store(line);
                    if let Some(line) = found {
                        return Ok(line);
                    }
                }
                Err(why) => {
                    let why = match why {
                        RecvTimeoutError::Timeout => format!("no line with {part:?} in {at_most:?}"),
                        RecvTimeoutError::Disconnected => format!("ended without a line with {part:?}"),
                    };
                    return Err(Failure(format!("{why}; {}", self.said())));
                }
            }
        }
    }

    /// Sends a signal to it and to nothing else.
    pub fn signal(&mut self, signal: Signal) -> Outcome<()> {
        // A process that was waited for has given its number back, and it may be another's by now.
        if let Some(status) = self.child.try_wait().doing(|| format!("look after {}", self.name))? {
            return Err(Failure(format!("{} had ended already: {status}; {}", self.name, self.said())));
        }
        let pid = i32::try_from(self.child.id()).ok().and_then(Pid::from_raw);
        let pid = pid.ok_or_else(|| Failure(format!("{} has no process number", self.name)))?;
        kill_process(pid, signal).doing(|| format!("send {signal:?} to {}", self.name))
    }

    pub fn is_running(&mut self) -> Outcome<bool> {
        Ok(self.child.try_wait().doing(|| format!("look after {}", self.name))?.is_none())
    }

    /// Waits until it ends by itself.
    ///
    /// # Errors
    /// If the time is up before: it is then ended.
    pub fn wait(mut self, at_most: Duration) -> Outcome<Ended> {
        let end = Instant::now() + at_most;
        let status = loop {
            if let Some(status) = self.child.try_wait().doing(|| format!("wait for {}", self.name))? {
                break status;
            }
            if Instant::now() > end {
                return Err(Failure(format!("still running after {at_most:?}; {}", self.said())));
            }
            thread::sleep(LOOK_EVERY);
        };
        // The outputs close with the process, unless it left a child behind.
        while let Ok(line) = self.lines.recv_timeout(Duration::from_secs(1)) {
            self.store(line);
        }
        Ok(Ended {
            status,
            stdout: std::mem::take(&mut self.stdout),
            stderr: std::mem::take(&mut self.stderr),
        })
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        // `kill` on a child that was waited for does nothing, so this never hits another process.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Runs a program to its end.
pub fn run(
    program: Program,
    args: impl IntoIterator<Item = impl AsRef<OsStr>>,
    at_most: Duration,
) -> Outcome<Ended> {
    Running::start(program, args)?.wait(at_most)
}

/// Waits until `ready` gives something.
///
/// # Errors
/// If `ready` fails, or gives nothing in time: `what` says what was waited for.
pub fn wait_until<T>(
    what: &str,
    at_most: Duration,
    mut ready: impl FnMut() -> Outcome<Option<T>>,
) -> Outcome<T> {
    let end = Instant::now() + at_most;
    loop {
        if let Some(value) = ready()? {
            return Ok(value);
        }
        if Instant::now() > end {
            return Err(Failure(format!("waited {at_most:?} in vain for {what}")));
        }
        thread::sleep(LOOK_EVERY);
    }
}
