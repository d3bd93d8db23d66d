//! A field to test in: a folder, a virtual box on a link, and the recorder, in one sentence:
//! `Field::new()?.with_box("--drop-frames 0.001").record("")?.to_the_end()?.verify()`.

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use sample_runs::sensors::Sensor;
use tempfile::TempDir;

use crate::binaries::Program;
use crate::process::{Ended, Running, Signal, wait_until};
use crate::pty::Pty;
use crate::run_folder::runs_in;
use crate::verify::{Verified, verify, verify_torn};
use crate::{Doing, Failure, Outcome};

/// Longest that anything may take to begin or to end.
pub const SOON: Duration = Duration::from_secs(10);
/// A pass is over when no row has come for this long.
const QUIET: Duration = Duration::from_millis(1500);
/// A box writes its truth file at least this often, in its own time, which never is slower than ours.
const LONGEST_UNWRITTEN: Duration = Duration::from_secs(1);
/// The plow without its sensors, which are those of the virtual box.
const PLOW: &str = include_str!("plow.toml");
/// Its only setting.
const SETTING: &str = "as-found";

/// A plow description with the sensors of the virtual box, each calibrated by two points.
#[must_use]
pub fn plow_toml(sensors: &[Sensor]) -> String {
    let mut text = PLOW.to_owned();
    for Sensor { channel, column, zero_count, counts_per_unit, count_limits: (low, high), .. } in sensors {
        let unit = match column.rsplit_once('_').map_or("", |(_, unit)| unit) {
            "n" => "N",
            other => other,
        };
        text += &format!(
            "\n[[sensors]]\nchannel = \"{channel}\"\nmeasures = \"{channel}\"\n\
             count_limits = [{low}, {high}]\ncalibration = {{ date = \"2027-03-01\", points = [[{zero_count:?}, \"0 {unit}\"], \
             [{:?}, \"10 {unit}\"]] }}\n",
            zero_count + 10.0 * counts_per_unit,
        );
    }
    text
}

/// A folder of its own, taken away at the end, with a plow description, and the box that is to ride along.
#[derive(Debug)]
pub struct Field {
    folder: TempDir,
    box_args: Option<String>,
}

impl Field {
    /// A field without a box.
    ///
    /// # Errors
    /// If there is no room for temporary files.
    pub fn new() -> Outcome<Self> {
        let folder = TempDir::with_prefix("field-").doing(|| "make a temporary folder".into())?;
        let field = Self { folder, box_args: None };
        let plow = plow_toml(&Sensor::BASIC);
        fs::write(field.plow(), plow).doing(|| "write the plow description".into())?;
        fs::create_dir(field.runs()).doing(|| "make the folder of the runs".into())?;
        Ok(field)
    }

    /// With a virtual box that is started with these words on its command line; the link, the truth file
    /// and a pass of 20 s in a twentieth of the time are added unless the words say otherwise.
    #[must_use]
    pub fn with_box(mut self, words: &str) -> Self {
        self.box_args = Some(words.to_owned());
        self
    }

    /// With a plow description that wants these sensors instead of the three of every box.
    ///
    /// # Errors
    /// If it cannot be written.
    pub fn with_sensors(self, sensors: &[Sensor]) -> Outcome<Self> {
        fs::write(self.plow(), plow_toml(sensors)).doing(|| "write the plow description".into())?;
        Ok(self)
    }

    /// With this line as the box's port.
    ///
    /// # Errors
    /// If the link to it cannot be made.
    pub fn on_line(self, line: &Pty) -> Outcome<Self> {
        std::os::unix::fs::symlink(line.port(), self.port()).doing(|| "link to a line".into())?;
        Ok(self)
    }

    /// A file or folder in it.
    #[must_use]
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The plow description.
    #[must_use]
    pub fn plow(&self) -> PathBuf {
        self.path("plow.toml")
    }

    /// The folder that the runs go into.
    #[must_use]
    pub fn runs(&self) -> PathBuf {
        self.path("runs")
    }

    /// The symlink that leads to the box's port.
    #[must_use]
    pub fn port(&self) -> PathBuf {
        self.path("port")
    }

    /// Where the box writes what it sampled.
    #[must_use]
    pub fn truth(&self) -> PathBuf {
        self.path("truth.csv")
    }

    /// Starts the box and waits until its port is there.
    ///
    /// # Errors
    /// If no box was asked for, or it does not start.
    pub fn start_box(&self) -> Outcome<Running> {
        let words = self.box_args.as_ref().ok_or_else(|| Failure("this field has no box".into()))?;
        let mut args: Vec<OsString> = words.split_whitespace().map(OsString::from).collect();
        for (option, value) in [("--speed-up", "20"), ("--working-s", "20")] {
            if !args.iter().any(|arg| arg == option) {
                args.extend([option, value].map(OsString::from));
            }
        }
        args.extend(["--link".into(), self.port().into(), "--truth".into(), self.truth().into()]);
        let mut running = Running::start_talking(Program::VirtualBox, args)?;
        // Its first line is the port's path.
        running.wait_for_line("/", SOON)?;
        Ok(running)
    }

    /// The link of another box and its truth file.
    #[must_use]
    pub fn other(&self, name: &str) -> (PathBuf, PathBuf) {
        (self.path(name), self.path(&format!("{name}-truth.csv")))
    }

    /// Words for the recorder: the box's port and those of the others.
    #[must_use]
    pub fn ports_with(&self, others: &[&str]) -> String {
        let ports = others.iter().map(|name| self.other(name).0);
        std::iter::once(self.port()).chain(ports).map(|port| format!("--port {} ", port.display())).collect()
    }

    /// Starts another box on [`Field::other`], with nothing added to its words.
    ///
    /// # Errors
    /// If it does not start.
    pub fn start_other(&self, name: &str, words: &str) -> Outcome<Running> {
        let (port, truth) = self.other(name);
        let mut args: Vec<OsString> = words.split_whitespace().map(OsString::from).collect();
        args.extend(["--link".into(), port.into(), "--truth".into(), truth.into()]);
        let mut running = Running::start(Program::VirtualBox, args)?;
        running.wait_for_line("/", SOON)?;
        Ok(running)
    }

    /// What the recorder is started with: everything that it needs unless the words say otherwise, and these
    /// words after it.
    #[must_use]
    pub fn recorder_args(&self, words: &str) -> Vec<OsString> {
        let mut args: Vec<OsString> = Vec::new();
        for (option, value) in [
            ("--plow", self.plow()),
            ("--setting", SETTING.into()),
            ("--port", self.port()),
            ("--out", self.runs()),
        ] {
            if !words.split_whitespace().any(|word| word == option) {
                args.extend([option.into(), value.into()]);
            }
        }
        args.extend(words.split_whitespace().map(OsString::from));
        args
    }

    /// Starts the box, if there is one, and the recorder with these words added to its command line.
    ///
    /// # Errors
    /// If either does not start.
    pub fn record(self, words: &str) -> Outcome<Recording> {
        let sensor_box = self.box_args.is_some().then(|| self.start_box()).transpose()?;
        let recorder = Running::start(Program::Recorder, self.recorder_args(words))?;
        Ok(Recording { recorder, sensor_box, field: self })
    }
}

/// A recorder at work.
#[derive(Debug)]
pub struct Recording {
    /// The recorder.
    pub recorder: Running,
    /// The virtual box.
    pub sensor_box: Option<Running>,
    /// Where it works.
    pub field: Field,
}

impl Recording {
    /// The run folder, once it is there.
    ///
    /// # Errors
    /// If it does not come soon, or there are several.
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
    ///
    /// # Errors
    /// If that takes too long.
    pub fn until_lines(&mut self, lines: usize) -> Outcome<()> {
        let csv = self.run_folder()?.join("plow.csv");
        let enough = wait_until(&format!("{lines} lines of plow.csv"), SOON, || {
            Ok((lines_in(&csv) >= lines).then_some(()))
        });
        enough.map_err(|failure| self.with_output(failure))
    }

    /// Waits until rows have come and then none for a while: the pass is over.
    ///
    /// # Errors
    /// If none comes, or they go on for longer than any pass of these tests.
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
    ///
    /// # Errors
    /// If it does not end soon.
    pub fn end_with(mut self, signal: Signal) -> Outcome<Recorded> {
        self.recorder.signal(signal)?;
        self.wait()
    }

    /// Waits until the recorder ends by itself, as one that refuses to record does.
    ///
    /// # Errors
    /// If it does not end soon.
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
    ///
    /// # Errors
    /// If anything of it does not go as it should.
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
///
/// # Errors
/// If it does record, or does not name the port.
pub fn said_of(noise: &'static [u8]) -> Outcome<String> {
    let line = Pty::open()?;
    let field = Field::new()?.on_line(&line)?;
    line.say_again_and_again(noise)?;
    let recorded = field.record("")?.wait()?;
    let ended = recorded.ended.expect_code(1)?;
    let runs = runs_in(&recorded.field.runs())?;
    let said = ended.stderr.lines().last().unwrap_or_default().to_owned();
    let port = recorded.field.port().display().to_string();
    if runs.is_empty() && said.contains(&port) {
        return Ok(said);
    }
    Err(Failure(format!("runs {runs:?}, and of {port} was said: {said}")))
}

fn lines_in(csv: &Path) -> usize {
    fs::read(csv).map_or(0, |bytes| bytes.iter().filter(|byte| **byte == b'\n').count())
}

/// A recording that is over.
#[derive(Debug)]
pub struct Recorded {
    /// How the recorder ended.
    pub ended: Ended,
    /// Where it was.
    pub field: Field,
}

impl Recorded {
    /// The one run folder.
    ///
    /// # Errors
    /// If there is none, or several.
    pub fn run(&self) -> Outcome<PathBuf> {
        match &runs_in(&self.field.runs())?[..] {
            [run] => Ok(run.clone()),
            runs => Err(Failure(format!("not one run folder but {runs:?}"))),
        }
    }

    /// Holds the run against what the box knows.
    ///
    /// # Errors
    /// With what does not agree.
    pub fn verify(&self) -> Outcome<Verified> {
        verify(&self.run()?, &self.field.truth())
    }

    /// The same for a recorder that was killed.
    ///
    /// # Errors
    /// With what does not agree.
    pub fn verify_torn(&self) -> Outcome<Verified> {
        verify_torn(&self.run()?, &self.field.truth())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The description must be one that the recorder takes, and give the readings that `verify` expects.
    #[test]
    fn the_plow_description_is_sound_and_calibrated_as_the_box_is() {
        let text = plow_toml(&Sensor::ALL);
        let plow = ingest::plow::read_plow_text(&text, Path::new("plow.toml")).unwrap();
        assert_eq!(plow.sensors.len(), Sensor::ALL.len());
        for (sensor, known) in plow.sensors.iter().zip(Sensor::ALL) {
            assert_eq!(sensor.measures.column(), known.column);
            let [zero, ten] = &sensor.calibration.points[..] else { panic!("{sensor:?}") };
            assert_eq!(sensor.measures.in_column_unit(&zero.1).unwrap(), 0.0);
            let reading = sensor.measures.in_column_unit(&ten.1).unwrap();
            assert!((reading - 10.0).abs() < 1e-12, "{reading}");
            assert!(((ten.0 - zero.0) / 10.0 - known.counts_per_unit).abs() < 1e-9);
        }
    }
}
