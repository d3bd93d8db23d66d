//! Why a recording did not begin, or did not end well. Each is one sentence.

use crate::calibration::CalibrationFault;
use crate::port::PortError;
use crate::session::BoxRefusal;
use std::path::PathBuf;

/// Why a recording failed.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RecordError {
    /// The plow has no such setting.
    #[error("the plow \"{plow}\" has no setting \"{name}\"; it has {known}")]
    NoSuchSetting {
        /// The plow.
        plow: String,
        /// The setting asked for.
        name: String,
        /// Those that there are.
        known: String,
    },
    /// The plow of this name has no sensors.
    #[error(
        "the plow \"{0}\" has no sensors: say in [[sensors]] which channel of the box measures what; \
         `hitchwright calibrate` writes such an entry"
    )]
    NoSensors(String),
    /// A calibration gives no readings.
    #[error(transparent)]
    Calibration(#[from] CalibrationFault),
    /// No port was named; it says which there are.
    #[error("no port was named; {0}")]
    NoPort(String),
    /// A port cannot be opened.
    #[error(transparent)]
    Port(#[from] PortError),
    /// The port went away before the run began.
    #[error("port {} went away before the run began ({why})", port.display())]
    PortWent {
        /// The port.
        port: PathBuf,
        /// Why.
        why: String,
    },
    /// No byte came on this port.
    #[error(
        "nothing arrives on port {}: is the sensor box switched on, and is this its port?", .0.display()
    )]
    Silent(PathBuf),
    /// Bytes came, but nothing of ours in them.
    #[error("bytes arrive on port {} but no frame of a sensor box: {likely_cause}", port.display())]
    NoFrame {
        /// The port.
        port: PathBuf,
        /// What may be wrong.
        likely_cause: String,
    },
    /// Frames came on this port, but no hello.
    #[error(
        "port {} brings frames of a sensor box but no hello, even after a start: is its line towards the \
         box connected?", .0.display()
    )]
    NoHello(PathBuf),
    /// No byte came from the receiver on this port.
    #[error(
        "nothing arrives on port {}: is the GNSS receiver switched on, and is this its port?", .0.display()
    )]
    GnssSilent(PathBuf),
    /// Bytes came, but no sentence whose checksum is right.
    #[error(
        "bytes arrive on port {} but no NMEA 0183 sentence: check --gnss-baud (now {baud}) and that a GNSS \
         receiver is on this port", port.display()
    )]
    GnssNoSentence {
        /// The port.
        port: PathBuf,
        /// Its speed.
        baud: u32,
    },
    /// Sentences came on this port, all of them without a checksum.
    #[error(
        "the GNSS receiver on port {} sends NMEA 0183 sentences without checksums, and without them a damaged \
         place or speed cannot be told from a right one: switch the checksums on in its settings", .0.display()
    )]
    GnssNoChecksums(PathBuf),
    /// A sensor box is on this port, the receiver's.
    #[error("port {} is that of a sensor box and not of a GNSS receiver: give it as --port", .0.display())]
    GnssIsABox(PathBuf),
    /// Sentences came, but not those that make a fix.
    #[error(
        "the GNSS receiver on port {} must send RMC, or GGA and VTG, for places and speeds; it sends {sends}: \
         switch them on in its settings", port.display()
    )]
    GnssOfNoUse {
        /// The port.
        port: PathBuf,
        /// What it sends of them.
        sends: String,
    },
    /// This port was named twice.
    #[error("port {} was named twice: each box and the GNSS receiver have a port of their own", .0.display())]
    SamePort(PathBuf),
    /// The box cannot be recorded with this plow.
    #[error("port {}: {refusal}", port.display())]
    Refused {
        /// The port.
        port: PathBuf,
        /// Why.
        refusal: BoxRefusal,
    },
    /// Channels that the plow's sensors need are on none of several boxes.
    #[error(
        "no box has the channel {missing}; {boxes}: correct [[sensors]] in the plow description, or name the port \
         of the box that has it"
    )]
    OnNoBox {
        /// Channels wanted and not there.
        missing: String,
        /// What each box has.
        boxes: String,
    },
    /// This folder is there.
    #[error("{} exists already: a run never goes into a folder that is there", .0.display())]
    FolderExists(PathBuf),
    /// The folder or a file in it cannot be made.
    #[error("{} cannot be made: {cause}", path.display())]
    CannotMake {
        /// What.
        path: PathBuf,
        /// What the system said.
        cause: std::io::Error,
    },
    /// Too little space.
    #[error(
        "{} has {free_mb} MB free and this run needs {needed_mb} MB: make room or record elsewhere",
        folder.display()
    )]
    NoSpace {
        /// Where the run would be.
        folder: PathBuf,
        /// Free space in MB.
        free_mb: u64,
        /// Space needed in MB.
        needed_mb: u64,
    },
    /// Stopped before the run began.
    #[error("stopped before the run began; nothing was written")]
    StoppedBefore,
    /// The run was recorded, but not all of it could be written.
    #[error("{}: not everything could be written: {cause}; what is there is whole", folder.display())]
    Unwritten {
        /// The run.
        folder: PathBuf,
        /// What the disk said.
        cause: String,
    },
    /// The computer gave no thread, timer or signal handler.
    #[error("the recorder cannot run here: {0}")]
    System(std::io::Error),
}
