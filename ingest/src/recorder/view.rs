//! What a recording shows while it goes on.

use super::{Order, PassChoice, RecordError, RecordedRun};
use crate::assemble::Row;
use crate::plow::{ChannelRole, ShareCondition};
use crate::quantity::UnitSystem;
use serde::Serialize;
use std::io::{IsTerminal, Stderr, Write};
use std::path::PathBuf;

/// A run that has begun.
#[derive(Clone, Debug, PartialEq)]
pub struct BegunRun {
    /// Its folder.
    pub folder: PathBuf,
    /// The hitch setting that it is recorded with.
    pub setting_name: String,
    /// Condition of the shares.
    pub share: ShareCondition,
    /// Live time of its time 0, in µs: some seconds before the moment at which it was asked for.
    pub began_us: u64,
}

/// Rows of one box, just come.
#[derive(Clone, Copy, Debug)]
pub struct LiveRows<'a> {
    /// Number of the box, from 0 in the order of the ports.
    pub number: usize,
    /// What its columns measure.
    pub columns: &'a [ChannelRole],
    /// The rows. Their times are live time: since all boxes answered for the first time, rising over all runs.
    pub rows: &'a [Row],
}

/// How a recording is going.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Progress {
    /// Run time in s; 0 between runs, as rows and rows lost.
    pub t_s: f64,
    /// Rows of the run so far, of all boxes.
    pub rows: u64,
    /// Rows of the run lost so far, of all boxes.
    pub rows_lost: u64,
    /// Time of the run without rows that is in no other count so far, of all boxes, in ms.
    pub without_readings_ms: u64,
    /// Rows of the run refused so far, of all boxes: they made no sense, or had other channels than the box said.
    pub rows_refused: u64,
    /// Marks of the run so far.
    pub marks: u64,
    /// Box by box, what is waited for while its port is away, in one sentence.
    pub boxes_away: Vec<Option<String>>,
    /// The latest readings of each column, in the column's unit.
    pub latest: Vec<(ChannelRole, f64)>,
    /// Some box answers, but no row comes.
    pub no_rows: bool,
    /// The clock of some box runs apart from the computer's.
    pub clock_apart: bool,
    /// Why a GNSS receiver that there should be gives nothing, in one sentence.
    pub no_receiver: Option<String>,
    /// The GNSS receiver has no fix.
    pub has_no_fix: bool,
    /// What the disk says while it fails.
    pub disk_trouble: Option<String>,
    /// The run is over and its last data wait for a slow disk: what comes after that, in one sentence.
    pub still_written: Option<String>,
    /// Where the run goes on since its folder was deleted or moved away, in one sentence.
    pub folder_away: Option<String>,
    /// What begins the next run.
    pub begins: Begins,
}

/// What begins the next run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Begins {
    /// A person.
    #[default]
    ByHand,
    /// The plow, when it goes into the ground.
    WhenIn,
    /// The plow, when it goes into the ground once it has come out of it.
    OnceOut,
}

/// Shows a recording to somebody; nothing of what it leaves out. Each call comes from the recorder's loop and must
/// return at once.
pub trait View {
    /// All boxes have answered, or a run is over; nothing is written until the next one begins.
    fn stands_by(&mut self) {}
    /// The next runs are recorded with this from now on: a person has said so, or the note went with the run that began.
    fn chosen(&mut self, _next: &PassChoice, _by_person: bool) {}
    /// A run has begun.
    fn began(&mut self, _run: &BegunRun) {}
    /// Rows have come, of a run or not.
    fn readings(&mut self, _rows: &LiveRows<'_>) {}
    /// Called some times a second.
    fn progress(&mut self, _progress: &Progress) {}
    /// Something to know, in one line.
    fn notice(&mut self, _line: &str) {}
    /// The same, of something that costs readings or may: it goes before what is only to be known.
    fn warning(&mut self, line: &str) {
        self.notice(line);
    }
    /// What was asked for is not done, and why, in one line.
    fn not_done(&mut self, _order: Order, why: &str) {
        self.notice(why);
    }
    /// The run is over, or could not begin.
    fn ended(&mut self, _run: &Result<RecordedRun, RecordError>) {}
}

/// Shows nothing.
#[derive(Clone, Copy, Debug, Default)]
pub struct NoView;

impl View for NoView {}

/// Notices as lines, and a line of figures that is kept up to date if a terminal shows them.
#[derive(Debug)]
pub struct LinesView<W> {
    out: W,
    terminal: bool,
    shown: bool,
    units: UnitSystem,
}

/// The same on stderr.
pub type StderrView = LinesView<Stderr>;

impl StderrView {
    /// With figures in these units.
    #[must_use]
    pub fn in_units(units: UnitSystem) -> Self {
        let out = std::io::stderr();
        Self { terminal: out.is_terminal(), out, shown: false, units }
    }
}

impl<W: Write> LinesView<W> {
    // A pipe that nobody reads any more is no reason to stop recording: errors of writing are let go.
    fn line(&mut self, line: &str) {
        let clear = if std::mem::take(&mut self.shown) { "\r\x1b[K" } else { "" };
        // Texts from outside must not move the cursor.
        let plain: String = line.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
        let _ = writeln!(self.out, "{clear}{plain}");
    }
}

/// The figures of one line: `12.3 s  12,300 rows  pull 7,345 N  ...`.
#[must_use]
pub fn status_line(progress: &Progress, units: UnitSystem) -> String {
    let mut line = format!("{:.1} s  {} rows", progress.t_s, progress.rows);
    for (role, value) in &progress.latest {
        line.push_str(&format!("  {}", role.shown(*value, units)));
    }
    for loss in progress.losses().in_words() {
        line.push_str(&format!("  {loss}"));
    }
    for (wrong, _) in progress.wrong() {
        line.push_str(&format!("  {}", wrong.label()));
    }
    line
}

impl<W: Write> View for LinesView<W> {
    fn stands_by(&mut self) {
        self.line("standing by: nothing is written until a run begins");
    }

    fn began(&mut self, run: &BegunRun) {
        self.line(&format!("recording into {}", run.folder.display()));
    }

    fn progress(&mut self, progress: &Progress) {
        if self.terminal {
            self.shown = true;
            let _ = write!(self.out, "\r\x1b[K{}", status_line(progress, self.units));
        }
    }

    fn notice(&mut self, line: &str) {
        self.line(line);
    }

    fn ended(&mut self, _run: &Result<RecordedRun, RecordError>) {
        if std::mem::take(&mut self.shown) {
            let _ = writeln!(self.out);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_line_says_what_matters_in_the_field() {
        let progress = Progress {
            t_s: 12.34,
            rows: 12_340,
            rows_lost: 8,
            without_readings_ms: 40_250,
            rows_refused: 0,
            marks: 0,
            boxes_away: vec![Some("waiting for port: hung up".to_owned())],
            latest: vec![(ChannelRole::Pull, 7345.4), (ChannelRole::Tail, 12.26)],
            no_receiver: Some("none".to_owned()),
            no_rows: true,
            clock_apart: true,
            has_no_fix: true,
            disk_trouble: None,
            still_written: None,
            folder_away: None,
            begins: Begins::ByHand,
        };
        let line = "12.3 s  12340 rows  pull 7345 N  tail 12.3 mm  8 rows lost  40.2 s without readings  BOX AWAY  NO ROWS  CLOCK APART  NO RECEIVER  NO FIX";
        assert_eq!(status_line(&progress, UnitSystem::Si), line);
        let inches = line.replace("pull 7345 N  tail 12.3 mm", "pull 1651 lbf  tail 0.48 in");
        assert_eq!(status_line(&progress, UnitSystem::Us), inches);
        let si = UnitSystem::Si;
        assert_eq!(status_line(&Progress::default(), si), "0.0 s  0 rows", "nothing is wrong");
        let disk = Progress { disk_trouble: Some("full".to_owned()), ..Progress::default() };
        assert_eq!(status_line(&disk, si), "0.0 s  0 rows  DISK FAILS");
    }

    /// What a view writes in a run with two notices.
    fn written(terminal: bool) -> String {
        let mut view = LinesView { out: Vec::new(), terminal, shown: false, units: UnitSystem::Si };
        let share = ShareCondition::Sharp;
        let run = BegunRun { folder: "runs/1".into(), setting_name: "low".to_owned(), share, began_us: 0 };
        view.stands_by();
        view.began(&run);
        view.progress(&Progress { rows: 50, ..Progress::default() });
        view.progress(&Progress { rows: 60, ..Progress::default() });
        view.notice("box \"\x1b[2J\tx\" is there");
        view.not_done(Order::Start, "stop it first");
        view.progress(&Progress { rows: 70, ..Progress::default() });
        view.ended(&Err(RecordError::StoppedBefore));
        String::from_utf8(view.out).unwrap()
    }

    /// The figures give way to what is told and are written again; what comes from outside moves no cursor.
    #[test]
    fn a_terminal_shows_the_figures_of_now_and_a_file_has_none() {
        let lines = [
            "standing by: nothing is written until a run begins\nrecording into runs/1\n",
            "box \" [2J x\" is there\nstop it first\n",
        ];
        assert_eq!(written(false), lines.concat());
        let figures = |rows: u32| format!("\r\x1b[K0.0 s  {rows} rows");
        let (two, one) = ([figures(50), figures(60)].concat(), figures(70));
        assert_eq!(written(true), format!("{}{two}\r\x1b[K{}{one}\n", lines[0], lines[1]));
    }
}
