//! A GNSS receiver without the receiver: NMEA 0183 sentences on a pseudo-terminal, for a recorder to listen to.
//!
//! It rides along an invented straight furrow in the middle of an ocean, where no field is, with a speed that
//! is given. Its time begins when a host first opens the port. It never expects anything from the host, and
//! counts the bytes that came all the same.

mod sentences;
mod session;
mod track;

use std::path::PathBuf;

pub use sentences::{Epoch, SentenceKind, sentence};
pub use session::{ReceiverReport, ReceiverSession};
pub use track::{SpeedProfile, Track};

use crate::plow::Case;
use crate::virtual_box::BoxError;

/// A virtual receiver. Times are seconds since a host first opened the port.
#[derive(Clone, Debug)]
pub struct ReceiverConfig {
    /// Where to put a symlink to the port.
    pub link: Option<PathBuf>,
    /// Where to write each epoch, with what became of it and what is true.
    pub truth_csv: Option<PathBuf>,
    /// Two letters that its sentences begin with.
    pub talker: String,
    /// Which sentences it sends in each epoch, in this order.
    pub sentences: Vec<SentenceKind>,
    /// Epochs in a second, 1 to 10.
    pub rate_hz: u32,
    /// Its speed.
    pub profile: SpeedProfile,
    /// Course in degrees, clockwise from north.
    pub course_deg: f64,
    /// UTC time of day of its first epoch, in whole seconds.
    pub utc_s: u32,
    /// It falls silent after this time.
    pub lasts_s: f64,
    /// From an epoch to its first byte, in ms.
    pub latency_ms: f64,
    /// Largest random delay on top of it, in ms.
    pub jitter_ms: f64,
    /// When it loses its fix.
    pub no_fix_at_s: Vec<f64>,
    /// For how long.
    pub no_fix_for_s: f64,
    /// When the cable is pulled.
    pub unplug_at_s: Vec<f64>,
    /// For how long.
    pub unplug_for_s: f64,
    /// Probability that a bit on the line is wrong.
    pub flip_bits: f64,
    /// Every so many sentences one digit is another; 0 for never.
    pub damage_every: u64,
    /// Seed of jitter and wrong bits.
    pub seed: u64,
}

impl Default for ReceiverConfig {
    /// A faultless receiver at the speed of the virtual plow, which sends RMC, GGA and VTG once a second.
    fn default() -> Self {
        Self {
            link: None,
            truth_csv: None,
            talker: "GN".to_owned(),
            sentences: vec![SentenceKind::Rmc, SentenceKind::Gga, SentenceKind::Vtg],
            rate_hz: 1,
            profile: SpeedProfile::constant(Case::Balanced.pass(1, 1.0).speed_mps),
            course_deg: 80.0,
            utc_s: 12 * 3600,
            lasts_s: 86_400.0,
            latency_ms: 0.0,
            jitter_ms: 0.0,
            no_fix_at_s: Vec::new(),
            no_fix_for_s: 3.0,
            unplug_at_s: Vec::new(),
            unplug_for_s: 1.0,
            flip_bits: 0.0,
            damage_every: 0,
            seed: 1,
        }
    }
}

impl ReceiverConfig {
    /// Everything that makes no sense is refused before a port is opened.
    fn check(&self) -> Result<(), ReceiverError> {
        let refuse = |what: &'static str| Err(ReceiverError::Config(what));
        let moment = |t: &f64| t.is_finite() && *t >= 0.0;
        if self.talker.len() != 2 || !self.talker.bytes().all(|byte| byte.is_ascii_uppercase()) {
            return refuse("a talker is two capital letters");
        }
        if self.sentences.is_empty() || !(1..=10).contains(&self.rate_hz) {
            return refuse("a receiver sends one sentence or more, 1 to 10 times a second");
        }
        if self.utc_s >= 86_400 || !(0.0..360.0).contains(&self.course_deg) {
            return refuse("a time of day is below 24 h, a course 0 to below 360 degrees");
        }
        let times = [self.lasts_s, self.latency_ms, self.jitter_ms, self.no_fix_for_s, self.unplug_for_s];
        let moments = self.no_fix_at_s.iter().chain(&self.unplug_at_s).chain(&times);
        if !moments.into_iter().all(moment) || !(0.0..=1.0).contains(&self.flip_bits) {
            return refuse("times are 0 or more, a probability lies between 0 and 1");
        }
        if !self.unplug_at_s.is_empty() && self.link.is_none() {
            return refuse("a cable can be pulled only with a link: the port has another name afterwards");
        }
        Ok(())
    }
}

/// Why a virtual receiver cannot run, or had to stop.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReceiverError {
    /// The configuration makes no sense.
    #[error("{0}")]
    Config(&'static str),
    /// The line or its link.
    #[error(transparent)]
    SerialLine(#[from] BoxError),
    /// The truth file.
    #[error("{}: {cause}", path.display())]
    Truth {
        /// The file.
        path: PathBuf,
        /// What the system said.
        cause: std::io::Error,
    },
}
