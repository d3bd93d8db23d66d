//! The program that works things out, as a child process that can do no harm: at lower priority, with limits of time,
//! memory, written files and output, and ended with this one.

use super::RunsError;
use super::queue::Stop;
use crate::system::{Hold, hold, in_own_group, kill_group};
use ingest::system::may_run;
use std::ffi::OsString;
use std::io::{self, Read};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

/// How often it is looked whether the child has ended.
const LOOK_EVERY: Duration = Duration::from_millis(10);
/// Most of what it may say on stderr, in bytes.
const SAID_BYTES_MAX: usize = 16 * 1024;
/// Longest sentence of its that is passed on, in characters.
const SENTENCE_CHARACTERS_MAX: usize = 600;
/// Priority of the child: whatever else runs comes first. Somebody waits for the verdict of a pass that has just ended.
const NICE: i32 = 10;
const NICE_URGENT: i32 = 5;
/// Largest file that the child may write, in bytes.
pub(super) const FILE_BYTES_MAX: u64 = 16 * 1024 * 1024;

/// What the child is held to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Time until it is ended.
    pub time: Duration,
    /// Most of what it may print, in bytes.
    pub output_bytes: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self { time: Duration::from_secs(120), output_bytes: 256 * 1024 }
    }
}

/// Where the program is, if it is anywhere, and what it is held to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Analyst {
    program: Option<PathBuf>,
    limits: Limits,
}

impl Analyst {
    /// `hitchwright` beside the running program, else in the search path.
    #[must_use]
    pub fn find() -> Self {
        let name = format!("hitchwright{}", std::env::consts::EXE_SUFFIX);
        let beside = std::env::current_exe().ok().and_then(|own| Some(own.parent()?.join(&name)));
        let path = std::env::var_os("PATH").unwrap_or_default();
        let in_path = std::env::split_paths(&path).map(|folder| folder.join(&name));
        let program = beside.into_iter().chain(in_path).find(|program| is_program(program));
        Self { program, limits: Limits::default() }
    }

    /// This program, held to these limits; `None` is as if there were none.
    #[must_use]
    pub fn at(program: Option<PathBuf>, limits: Limits) -> Self {
        Self { program, limits }
    }

    /// Whether there is a program at all.
    #[must_use]
    pub fn is_there(&self) -> bool {
        self.program.is_some()
    }

    /// Runs it, and gives what it printed.
    pub(super) fn run(&self, arguments: &[OsString], stop: &Stop<'_>) -> Result<Vec<u8>, RunsError> {
        let program = self.program.as_ref().ok_or(RunsError::NoAnalyst)?;
        let mut running = Running::start(program, arguments, &self.limits, stop.is_urgent())?;
        let status = running.wait(&self.limits, stop)?;
        let (printed, said) = running.heard();
        if printed.len() > self.limits.output_bytes {
            return Err(RunsError::TooMuch);
        }
        if status.success() {
            return Ok(printed);
        }
        match status.code() {
            // By its own account; another status is a panic's.
            Some(1 | 2) if !said.is_empty() => Err(RunsError::Says(sentence(&said))),
            _ => Err(RunsError::BrokeOff(status.to_string())),
        }
    }
}

/// The last line of what it said, which is why it did not do its work.
fn sentence(said: &[u8]) -> String {
    let said = String::from_utf8_lossy(said);
    let line = said.lines().rev().find(|line| !line.trim().is_empty()).unwrap_or_default();
    let line = line.strip_prefix("hitchwright: ").unwrap_or(line);
    line.chars().filter(|c| !c.is_control()).take(SENTENCE_CHARACTERS_MAX).collect()
}

fn is_program(path: &Path) -> bool {
    path.metadata().is_ok_and(|about| may_run(&about))
}

/// A child that is ended when this is dropped.
struct Running {
    child: Child,
    printed: Option<JoinHandle<Vec<u8>>>,
    said: Option<JoinHandle<Vec<u8>>>,
    prints_too_much: Arc<AtomicBool>,
    began: Instant,
    is_over: bool,
}

impl Running {
    fn start(
        program: &Path,
        arguments: &[OsString],
        limits: &Limits,
        is_urgent: bool,
    ) -> Result<Self, RunsError> {
        let mut command = Command::new(program);
        command.args(arguments).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        in_own_group(&mut command);
        let cannot =
            |cause: io::Error| RunsError::System(format!("{} cannot be run: {cause}", program.display()));
        let mut child = command.spawn().map_err(cannot)?;
        let (stdout, stderr) = (child.stdout.take(), child.stderr.take());
        let prints_too_much = Arc::new(AtomicBool::new(false));
        let mut running = Self {
            child,
            printed: None,
            said: None,
            prints_too_much: prints_too_much.clone(),
            began: Instant::now(),
            is_over: false,
        };
        let nice = if is_urgent { NICE_URGENT } else { NICE };
        hold(&running.child, Hold { nice, time: limits.time, file_bytes: FILE_BYTES_MAX });
        running.printed = listen(stdout, limits.output_bytes, prints_too_much).map_err(cannot)?;
        running.said = listen(stderr, SAID_BYTES_MAX, Arc::default()).map_err(cannot)?;
        Ok(running)
    }

    /// Until it ends, or has to.
    fn wait(&mut self, limits: &Limits, stop: &Stop<'_>) -> Result<ExitStatus, RunsError> {
        loop {
            let ended = self.child.try_wait().map_err(|cause| RunsError::System(cause.to_string()))?;
            if let Some(status) = ended {
                self.is_over = true;
                // What it may have left behind must not hold the pipes open.
                self.kill();
                return Ok(status);
            }
            if let Some(reason) = stop.reason() {
                return Err(reason);
            }
            if self.began.elapsed() > limits.time {
                return Err(RunsError::TookTooLong(limits.time.as_secs()));
            }
            // It may go on though nobody listens any more.
            if self.prints_too_much.load(Ordering::Relaxed) {
                return Err(RunsError::TooMuch);
            }
            std::thread::sleep(LOOK_EVERY);
        }
    }

    fn heard(&mut self) -> (Vec<u8>, Vec<u8>) {
        let all = |listener: Option<JoinHandle<Vec<u8>>>| {
            listener.and_then(|one| one.join().ok()).unwrap_or_default()
        };
        (all(self.printed.take()), all(self.said.take()))
    }

    fn kill(&mut self) {
        kill_group(&self.child);
        if !self.is_over {
            let _ = self.child.kill();
            let _ = self.child.wait();
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        if !self.is_over {
            self.kill();
        }
    }
}

/// Reads up to one byte more than so many, on a thread, so that a full pipe holds nobody up, and tells if that byte
/// came.
fn listen(
    pipe: Option<impl Read + Send + 'static>,
    bytes: usize,
    too_much: Arc<AtomicBool>,
) -> io::Result<Option<JoinHandle<Vec<u8>>>> {
    let Some(pipe) = pipe else { return Ok(None) };
    let listen = move || {
        let mut heard = Vec::new();
        // What came before an error is what there is.
        let _ = pipe.take(bytes as u64 + 1).read_to_end(&mut heard);
        too_much.store(heard.len() > bytes, Ordering::Relaxed);
        heard
    };
    std::thread::Builder::new().name("analyst's ear".to_owned()).spawn(listen).map(Some)
}
