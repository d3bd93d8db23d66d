//! A recording in a [`Field`]: under way, and over.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::binaries::Program;
use crate::field::{Field, SOON};
use crate::process::{Ended, Running, Signal, wait_until};
use crate::pty::Pty;
use crate::run_folder::{run_in, runs_in};
use crate::verify::{Verified, verify, verify_torn};
use crate::{Doing, Failure, Outcome};

/// A pass is over when no row has come for this long.
const QUIET: Duration = Duration::from_millis(1500);
/// A box writes its truth file at least this often, in its own time, which never is slower than ours.
const LONGEST_UNWRITTEN: Duration = Duration::from_secs(1);
impl Field {
    /// Starts the box, if there is one, and the recorder with these words added to its command line.
    pub fn record(self, words: &str) -> Outcome<Recording> {
        let sensor_box = self.box_args.is_some().then(|| self.start_box()).transpose()?;
        let recorder = Running::start(Program::Recorder, self.recorder_args(words))?;
        Ok(Recording { recorder, sensor_box, field: self })
    }

    /// What the recorder says where it must refuse: it ends with status 1, and leaves nothing among the runs.
    pub fn refused(self, words: &str) -> Outcome<String> {
        let Recorded { ended, field } = self.record(words)?.wait()?;
        let ended = ended.expect_code(1)?;
        let runs = fs::read_dir(field.runs()).doing(|| "list the runs".into())?;
        assert_eq!(runs.count(), 0, "{}", ended.stderr);
        Ok(ended.stderr)
    }
}

/// A recorder at work.
#[derive(Debug)]
pub struct Recording {
    pub recorder: Running,
    pub sensor_box: Option<Running>,
    pub field: Field,
}

impl Recording {
    /// The run folder, once it is there.
    pub fn run_folder(&mut self) -> Outcome<PathBuf> {
        let runs = self.field.runs();
        let found = wait_until("a run folder", SOON, || match &runs_in(&runs)?[..] {
            [] => Ok(None),
            [run] => Ok(Some(run.clone())),
            several => Err(Failure(format!("several run folders: {several:?}"))),
        });
        found.map_err(|failure| self.with_output(failure))
    }

    /// Waits until the run has this many lines in `plow.csv`, its header among them.
    pub fn until_lines(&mut self, lines: usize) -> Outcome<()> {
        let csv = self.run_folder()?.join("plow.csv");
        let enough = wait_until(&format!("{lines} lines of plow.csv"), SOON, || {
            Ok((lines_in(&csv) >= lines).then_some(()))
        });
        enough.map_err(|failure| self.with_output(failure))
    }

    /// Waits until rows have come and then none for a while: the pass is over.
    pub fn until_quiet(&mut self) -> Outcome<()> {
        self.until_lines(2)?;
        let csv = self.run_folder()?.join("plow.csv");
        let mut seen = (0, Instant::now());
        wait_until("the end of the pass", 6 * SOON, || {
            let lines = lines_in(&csv);
            if lines != seen.0 {
                seen = (lines, Instant::now());
            }
            Ok((seen.1.elapsed() > QUIET).then_some(()))
        })
    }

    /// Sends a signal to the recorder and waits until it has ended.
    pub fn end_with(mut self, signal: Signal) -> Outcome<Recorded> {
        self.recorder.signal(signal)?;
        self.wait()
    }

    /// Waits until the recorder ends by itself, as one that refuses to record does.
    pub fn wait(self) -> Outcome<Recorded> {
        let Self { recorder, sensor_box, field } = self;
        let ended = recorder.wait(SOON)?;
        if let Some(sensor_box) = sensor_box {
            let begun = !runs_in(&field.runs()).unwrap_or_default().is_empty();
            // A box that never was told to start waits for a host without end.
            if begun {
                until_truth_is_written(sensor_box, &field.truth())?;
            }
        }
        Ok(Recorded { ended, field })
    }

    /// Records the whole pass, ends the recorder as a person does, and demands that it ended well.
    pub fn to_the_end(mut self) -> Outcome<Recorded> {
        self.until_quiet()?;
        let mut recorded = self.end_with(Signal::INT)?;
        recorded.ended = recorded.ended.expect_code(0)?;
        Ok(recorded)
    }

    fn with_output(&mut self, failure: Failure) -> Failure {
        // A recorder that has ended has said why, which is what the reader wants to know.
        match self.recorder.wait_for_line("\u{0}", Duration::from_millis(200)) {
            Err(said) => Failure(format!("{failure}; {said}")),
            Ok(_) => failure,
        }
    }
}

/// Waits until all rows that the recorder can have seen are in the truth file, and ends the box. One that
/// was left in the middle of its pass writes on, by and by and in order: once rows that nobody heard have
/// come, all before them are there. One that was told to stop writes what it has left within a second.
fn until_truth_is_written(mut sensor_box: Running, truth: &Path) -> Outcome<()> {
    let bytes = || fs::read(truth).doing(|| format!("read {}", truth.display()));
    let (mut length, mut growths, mut grew) = (bytes()?.len(), 0, Instant::now());
    wait_until("the rest of the truth file", 2 * SOON, || {
        if !sensor_box.is_running()? {
            return Ok(Some(()));
        }
        let text = bytes()?;
        if text.len() > length {
            (length, growths, grew) = (text.len(), growths + 1, Instant::now());
        }
        let text = String::from_utf8_lossy(&text);
        let last = text.rsplit('\n').nth(1).unwrap_or_default();
        let unheard = growths >= 2 && last.split(',').nth(3) == Some("nobody");
        Ok((unheard || grew.elapsed() > 2 * LONGEST_UNWRITTEN).then_some(()))
    })
}

/// What the recorder says of a port on which this comes, again and again: it names the port, and nothing is recorded.
pub fn said_of(noise: &'static [u8]) -> Outcome<String> {
    let line = Pty::open()?;
    let field = Field::new()?.on_line(&line)?;
    line.say_again_and_again(noise)?;
    let port = field.port().display().to_string();
    let said = field.refused("")?.lines().last().unwrap_or_default().to_owned();
    if said.contains(&port) { Ok(said) } else { Err(Failure(format!("of {port} was said: {said}"))) }
}

fn lines_in(csv: &Path) -> usize {
    fs::read(csv).map_or(0, |bytes| bytes.iter().filter(|byte| **byte == b'\n').count())
}

/// A recording that is over.
#[derive(Debug)]
pub struct Recorded {
    pub ended: Ended,
    pub field: Field,
}

impl Recorded {
    pub fn run(&self) -> Outcome<PathBuf> {
        run_in(&self.field.runs())
    }

    /// Holds the run against what the box knows.
    pub fn verify(&self) -> Outcome<Verified> {
        verify(&self.run()?, &self.field.truth())
    }

    /// The same for a recorder that was killed.
    pub fn verify_torn(&self) -> Outcome<Verified> {
        verify_torn(&self.run()?, &self.field.truth())
    }
}
