//! Why a recording did not begin, or did not end well. Each is one sentence.

use crate::calibration::CalibrationFault;
use crate::description_file::DescriptionError;
use crate::port::PortError;
use crate::safety::BLOCKED;
use crate::session::BoxRefusal;
use std::path::PathBuf;

/// Why a recording failed.
#[derive(Debug, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum RecordError {
    #[error(transparent)]
    Plow(#[from] DescriptionError),
    /// What the environment says of units is none.
    #[error("{0}")]
    Units(String),
    #[error("the plow \"{plow}\" has no setting \"{name}\"; it has {known}")]
    NoSuchSetting { plow: String, name: String, known: String },
    #[error("the plow \"{plow}\" is to be recorded with a setting: name one; it has {known}")]
    NoSetting { plow: String, known: String },
    #[error(
        "the plow \"{0}\" has no sensors: say in [[sensors]] which channel of the box measures what; \
         `hitchwright calibrate` writes such an entry"
    )]
    NoSensors(String),
    #[error(transparent)]
    Calibration(#[from] CalibrationFault),
    #[error("no port was named; {0}")]
    NoPort(String),
    #[error(transparent)]
    Port(#[from] PortError),
    #[error(
        "port {} went away before the run began ({why}). {BLOCKED}: look at its cable and plug, then start again",
        port.display()
    )]
    PortWent { port: PathBuf, why: String },
    /// What is waited for, a sentence for each port.
    #[error("{0}")]
    PortsAway(String),
    #[error(
        "nothing arrives on port {}: is the sensor box switched on, and is this its port?", .0.display()
    )]
    Silent(PathBuf),
    #[error("bytes arrive on port {} but no frame of a sensor box: {likely_cause}", port.display())]
    NoFrame { port: PathBuf, likely_cause: String },
    #[error(
        "port {} brings frames of a sensor box but no hello, even after a start: is its line towards the \
         box connected?", .0.display()
    )]
    NoHello(PathBuf),
    #[error(
        "nothing arrives on port {}: is the GNSS receiver switched on, and is this its port?", .0.display()
    )]
    GnssSilent(PathBuf),
    #[error(
        "bytes arrive on port {} but no NMEA 0183 sentence: check --gnss-baud (now {baud}) and that a GNSS \
         receiver is on this port", port.display()
    )]
    GnssNoSentence { port: PathBuf, baud: u32 },
    #[error(
        "the GNSS receiver on port {} sends NMEA 0183 sentences without checksums, and without them a damaged \
         place or speed cannot be told from a right one: switch the checksums on in its settings", .0.display()
    )]
    GnssNoChecksums(PathBuf),
    #[error("port {} is that of a sensor box and not of a GNSS receiver: give it as --port", .0.display())]
    GnssIsABox(PathBuf),
    /// Sentences came, but not those that make a fix.
    #[error(
        "the GNSS receiver on port {} must send RMC, or GGA and VTG, for places and speeds; it sends {sends}: \
         switch them on in its settings", port.display()
    )]
    GnssOfNoUse { port: PathBuf, sends: String },
    #[error("port {} was named twice: each box and the GNSS receiver have a port of their own", .0.display())]
    SamePort(PathBuf),
    #[error("port {}: {refusal}", port.display())]
    Refused { port: PathBuf, refusal: BoxRefusal },
    #[error(
        "no box has the channel {missing}; {boxes}: correct [[sensors]] in the plow description, or name the port \
         of the box that has it"
    )]
    OnNoBox { missing: String, boxes: String },
    #[error("{} exists already: a run never goes into a folder that is there", .0.display())]
    FolderExists(PathBuf),
    #[error("{} cannot be made: {cause}", path.display())]
    CannotMake { path: PathBuf, cause: std::io::Error },
    #[error(
        "{} has {free_mb} MB free and this run needs {needed_mb} MB: make room or record elsewhere",
        folder.display()
    )]
    NoSpace { folder: PathBuf, free_mb: u64, needed_mb: u64 },
    /// Some of the runs failed; each was told when it did.
    #[error("{failed} of {runs} runs failed")]
    RunsFailed { failed: u64, runs: u64 },
    #[error("stopped before the run began; nothing was written")]
    StoppedBefore,
    /// The run was recorded, but not all of it could be written.
    #[error("{}: not everything could be written: {cause}; what is there is whole", folder.display())]
    Unwritten { folder: PathBuf, cause: String },
    /// The run was recorded and ended properly, and there is no row in it.
    #[error("{}: the run of {lasted_s:.1} s holds no row: {why}", folder.display())]
    NoRows { folder: PathBuf, lasted_s: f64, why: String },
    /// The computer gave no thread, timer or signal handler.
    #[error("the recorder cannot run here: {0}")]
    System(std::io::Error),
}
