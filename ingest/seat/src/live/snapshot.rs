//! The one value that page, panel and status file show. All figures in SI but depth, which is in mm as in a run's
//! columns; `None` where there is none, never NaN.

use crate::balance::Balance;
use crate::reader_units::{InBothUnits, ReaderUnits};
use ingest::plow::{Limits, Setting, ShareCondition};
use ingest::recorder::{Begins, PassChoice};
use serde::{Deserialize, Serialize};
use strum::IntoStaticStr;

/// What the recorder is doing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, IntoStaticStr)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum Phase {
    /// Not all boxes have answered.
    #[default]
    Listening,
    /// All boxes answer; nothing is written.
    StandsBy,
    /// A run is being written.
    Recording,
}

/// The program that records.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ProgramNow {
    /// Its version.
    pub version: &'static str,
    /// When it was started: another time is another recorder.
    pub started: String,
}

/// The run that is being recorded.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RunNow {
    /// Name of its folder.
    pub name: String,
    /// Its hitch setting.
    pub setting: String,
    /// Condition of the shares.
    pub share: ShareCondition,
    /// Run time in s.
    pub t_s: f64,
    /// Rows so far, of all boxes.
    pub rows: u64,
    /// Rows lost so far, of all boxes.
    pub rows_lost: u64,
    /// Time without rows that is in no other count so far, of all boxes, in ms.
    pub without_readings_ms: u64,
    /// Rows refused so far: they made no sense, or had other channels than the box said.
    pub rows_refused: u64,
    /// What of it is lost, in words, one kind each; empty where nothing is.
    pub losses: Vec<String>,
    /// Marks so far.
    pub marks: u64,
}

impl RunNow {
    /// One that has just begun.
    #[must_use]
    pub fn begun(name: &str, setting: &str, share: ShareCondition) -> Self {
        Self {
            name: name.to_owned(),
            setting: setting.to_owned(),
            share,
            t_s: 0.0,
            rows: 0,
            rows_lost: 0,
            without_readings_ms: 0,
            rows_refused: 0,
            losses: Vec::new(),
            marks: 0,
        }
    }
}

/// A sensor box.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BoxNow {
    /// What it is called.
    pub name: String,
    /// Its port.
    pub port: String,
    /// Its port is away.
    pub away: bool,
    /// Rows that came in the last second.
    pub rows_per_s: f64,
}

/// The load that the bar shows.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LoadNow {
    /// Which: `tail`, `front` or `top_link`.
    pub what: &'static str,
    /// What it is called on this plow.
    pub name: &'static str,
    /// The same load of the standing plow, N; `None` where that says nothing of it (a link).
    pub standing_n: Option<f64>,
    /// Under this it counts as lifted, N.
    pub lifted_under_n: Option<f64>,
    /// End of the bar, N.
    pub scale_n: f64,
}

/// What can be wrong, the worst first.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, IntoStaticStr, strum::VariantArray,
)]
#[serde(rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum TroubleKind {
    /// The disk fails.
    DiskFails,
    /// The run is over, and its last data are still being written.
    StillWritten,
    /// A port is away.
    PortAway,
    /// A box answers, but no row comes.
    NoRows,
    /// Rows were lost or refused, or did not come for a while.
    RowsLost,
    /// The folder of the run was deleted or moved away: the recording goes on beside it.
    FolderAway,
    /// The disk is nearly full.
    DiskNearlyFull,
    /// Runs begin by themselves, and nobody has said since the recorder was started in which setting the hitch is.
    Unconfirmed,
    /// The unattended recorder lacks something, or waits for a person.
    Service,
    /// The clock of a box runs apart from the computer's.
    ClockApart,
    /// There should be a GNSS receiver, and it gives nothing: runs are recorded without it.
    NoReceiver,
    /// The GNSS receiver has no fix.
    NoFix,
}

/// Something that is wrong now.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trouble {
    /// What.
    pub kind: TroubleKind,
    /// In one sentence.
    pub text: String,
    /// Live time at which it began, s: compare [`Snapshot::t_s`].
    pub since_s: f64,
}

/// Something to know.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NoticeLine {
    /// Its number, from 1.
    pub number: u64,
    /// Live time at which it was said, s.
    pub t_s: f64,
    /// The same as time of day where the recorder is, `14:03`.
    pub at: String,
    /// The run that was recorded then.
    pub run: Option<String>,
    /// It cost readings or might have.
    pub warning: bool,
    /// In one line.
    pub text: String,
}

/// What the next pass is recorded with.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Choice {
    /// Hitch setting.
    pub setting: Option<String>,
    /// Nobody has said yet that the hitch is in it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub assumed: bool,
    /// Condition of the shares.
    pub share: Option<ShareCondition>,
    /// Field.
    pub field: Option<String>,
    /// Notes.
    pub note: Option<String>,
}

impl From<PassChoice> for Choice {
    fn from(PassChoice { setting_name: setting, assumed, share, field, note }: PassChoice) -> Self {
        Self { setting, assumed, share, field, note }
    }
}

impl From<Choice> for PassChoice {
    fn from(Choice { setting: setting_name, assumed, share, field, note }: Choice) -> Self {
        Self { setting_name, assumed, share, field, note }
    }
}

/// The holes of a setting, for a glance at the pins.
pub(super) fn holes_of(setting: &Setting, puller: &str) -> String {
    format!("hole {} at the plow, hole {} at the {puller}", setting.plow_hole.name, setting.tractor_hole.name)
}

/// How far the working out of a pass is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum PassState {
    /// Under way.
    WorkingOut,
    /// Done.
    Ready,
    /// It could not be done.
    Failed,
}

/// The pass recorded last.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LastPass {
    /// Name of its folder.
    pub run: String,
    /// How far it is.
    pub state: PassState,
    /// The verdict in large letters, or why there is none.
    pub headline: String,
    /// How the verdict is drawn: `far`, `leaning`, `good`, `looks` or `open`; `None` without one.
    pub look: Option<String>,
    /// The first order, with its caution, as it stands among the lines.
    pub order: InBothUnits<Option<String>>,
    /// Move, reasons and figures, line by line.
    pub lines: InBothUnits<Vec<String>>,
    /// Comparison with the setting before, line by line: before there are passes enough, how many are missing; empty
    /// without a setting before.
    pub comparison: InBothUnits<Vec<String>>,
}

/// Why an order makes no sense now, each in a sentence; `None` where it does.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
#[allow(missing_docs, reason = "the orders of the same names")]
pub struct CannotNow {
    pub start: Option<String>,
    pub stop: Option<String>,
    pub mark: Option<String>,
}

/// All that is known now.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[allow(missing_docs, reason = "as the types of the same names")]
pub struct Snapshot {
    pub phase: Phase,
    pub program: ProgramNow,
    /// Live time in s: since the recorder began to listen.
    pub t_s: f64,
    pub run: Option<RunNow>,
    pub boxes: Vec<BoxNow>,
    /// For how long no row has come of any box, s; `None` while they come.
    pub silent_s: Option<f64>,
    /// Latest pull, N.
    pub pull_n: Option<f64>,
    /// Latest depth, mm.
    pub depth_mm: Option<f64>,
    /// Latest speed, m/s.
    pub speed_mps: Option<f64>,
    /// Latest load of what [`Snapshot::load`] names, N.
    pub tail_load_n: Option<f64>,
    pub load: Option<LoadNow>,
    /// Working depth of the plow description, mm.
    pub depth_target_mm: f64,
    /// The load is under [`LoadNow::lifted_under_n`], or was within the last tenth of a second.
    pub lifted: bool,
    pub balance: Option<Balance>,
    /// What of the balance index counts as balanced and as leaning on this plow.
    pub limits: Limits,
    pub troubles: Vec<Trouble>,
    /// The last 20, in the order in which they matter: the newest warnings first, then what else is new.
    pub notices: Vec<NoticeLine>,
    /// Names of the hitch settings of the plow description.
    pub settings: Vec<String>,
    /// The holes of each of them, in words.
    pub holes: Vec<String>,
    pub shares: [ShareCondition; 3],
    pub choice: Choice,
    /// What begins the next run.
    pub begins: Begins,
    /// Why a run can neither be started, stopped nor marked now.
    pub cannot: CannotNow,
    /// Whether who is shown this may start, stop and mark.
    pub may_control: bool,
    /// Units for whoever has not chosen others.
    pub units: ReaderUnits,
    pub last_pass: Option<LastPass>,
    /// Free space where runs go, bytes.
    pub disk_free_bytes: Option<u64>,
}

/// The readings of this moment, for the bar.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[allow(missing_docs, reason = "as in the snapshot")]
pub struct Now {
    pub t_s: f64,
    /// Load of what [`Snapshot::load`] names, N.
    pub load_n: Option<f64>,
    pub pull_n: Option<f64>,
    pub depth_mm: Option<f64>,
    pub speed_mps: Option<f64>,
    pub lifted: bool,
}
