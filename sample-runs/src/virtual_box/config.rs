//! What a virtual box is to do, and what may go wrong with it before it starts.

use std::path::PathBuf;

use super::held_counts::HeldCounts;
use crate::plow::{Case, PassSpec};
use crate::sensors::Sensor;

/// A virtual box: which pass it rides along, and how it behaves on the line.
#[derive(Clone, Debug)]
pub struct BoxConfig {
    /// The pass that its sensors see.
    pub pass: PassSpec,
    /// Name in its *hello*, up to 24 bytes of printable ASCII.
    pub name: String,
    /// Serial number in its *hello*, up to 16 bytes of printable ASCII.
    pub serial: String,
    /// Its sensors, in the order of its channel table: 1 to 8.
    pub sensors: Vec<Sensor>,
    /// Counts held on its channels, instead of what the pass gives.
    pub held: HeldCounts,
    /// Standard deviation of held counts.
    pub held_noise_sd: f64,
    /// Seed of the sensor noise and of the faults.
    pub seed: u64,
    /// Rows per 1000 s (mHz) until the host asks for another rate: 1 Hz to 10 kHz.
    pub row_rate_mhz: u32,
    /// Rows in each *readings* frame, at least 1; a frame that would grow too long is sent earlier.
    pub rows_per_frame: usize,
    /// It speaks in sentences (the text variant), a row in each, instead of in frames.
    pub text: bool,
    /// It can do no more than print: it hears nothing and sends hello and rows only. A text box may be so.
    pub deaf: bool,
    /// How many seconds of the pass go by in one second of the wall clock, above 0.
    pub speed_up: f64,
    /// Where to put a symlink to the port. A cable that is pulled and put back is another device
    /// afterwards, so pulling it needs this.
    pub link: Option<PathBuf>,
    /// Where to write each row that was sampled, with what became of it and what was true.
    pub truth_csv: Option<PathBuf>,
    /// Longest time that the port stays open after the last row, in s of the wall clock, for a host that
    /// neither reads everything nor stops the box nor closes the port.
    pub linger_s: f64,
    /// What goes wrong.
    pub faults: Faults,
}

impl BoxConfig {
    /// A faultless box with the three basic sensors at 200 Hz in real time, riding along `pass`.
    #[must_use]
    pub fn new(pass: PassSpec) -> Self {
        Self {
            pass,
            name: "virtual-box".to_owned(),
            serial: "VB-0001".to_owned(),
            sensors: Sensor::BASIC.to_vec(),
            held: HeldCounts::default(),
            held_noise_sd: 0.0,
            seed: 1,
            row_rate_mhz: 200_000,
            rows_per_frame: 8,
            text: false,
            deaf: false,
            speed_up: 1.0,
            link: None,
            truth_csv: None,
            linger_s: 10.0,
            faults: Faults::default(),
        }
    }

    /// The same for a case on a strip of the field, with this long at working depth.
    #[must_use]
    pub fn of_case(case: Case, field_seed: u64, working_s: f64) -> Self {
        Self::new(case.pass(field_seed, working_s))
    }

    /// Everything that makes no sense is refused before a port is opened.
    pub(super) fn check(&self) -> Result<(), BoxError> {
        let share = |p: f64| (0.0..=1.0).contains(&p);
        let moment = |t: &f64| t.is_finite() && *t >= 0.0;
        let (faults, total_s, mps) = (&self.faults, self.pass.times.total_s(), self.pass.speed_mps);
        let shares = [faults.drop_frames, faults.dup_frames, faults.flip_bits];
        let (drift, jitter) =
            (faults.drift_ppm.abs() <= 100_000.0, (0.0..=10_000.0).contains(&faults.jitter_ms));
        let moments = faults.unplug_at_s.iter().chain(&faults.reset_at_s).chain(&faults.mark_at_s);
        let linked = faults.unplug_at_s.is_empty() || self.link.is_some();
        refuse_unless(&[
            (total_s > 0.0 && total_s <= 86_400.0, "a pass lasts more than 0 s and at most a day"),
            (moment(&self.pass.times.standing_s), "the plow stands for 0 s or more before it moves"),
            (mps > 0.0 && mps < 20.0, "the speed must be above 0 and below 20 m/s"),
            (self.speed_up > 0.0 && self.speed_up <= 1e6, "the speed-up must be above 0 and at most 1000000"),
            ((1_000..=10_000_000).contains(&self.row_rate_mhz), "the row rate must be 1 Hz to 10 kHz"),
            ((0.0..=1e9).contains(&self.held_noise_sd), "the noise of held counts is 0 to 1000000000 counts"),
            (
                !self.deaf || self.text,
                "a box that hears nothing never is told to start, unless it is a text box",
            ),
            (self.rows_per_frame > 0, "a frame holds at least 1 row"),
            ((0.0..=86_400.0).contains(&self.linger_s), "the box lingers 0 s to a day"),
            (shares.into_iter().all(share), "a share of frames or bits lies between 0 and 1"),
            (drift && jitter, "drift is at most 100000 ppm, jitter 0 to 10000 ms"),
            (
                moments.chain([&faults.unplug_for_s]).all(moment),
                "a moment or a length of time is a number of seconds, 0 or more",
            ),
            (linked, PULLED_WITHOUT_LINK),
        ])
        .map_err(BoxError::Config)
    }
}

/// What is said of a cable that is to be pulled where no link stands for the port.
pub(crate) const PULLED_WITHOUT_LINK: &str =
    "a cable can be pulled only with a link: the port has another name afterwards";

/// The sentence of the first condition that does not hold.
pub(crate) fn refuse_unless(conditions: &[(bool, &'static str)]) -> Result<(), &'static str> {
    conditions.iter().find(|(holds, _)| !holds).map_or(Ok(()), |(_, sentence)| Err(*sentence))
}

/// What goes wrong; nothing, unless asked for. Times are seconds of the pass.
#[derive(Clone, Debug, PartialEq, clap::Args)]
#[command(next_help_heading = "Faults")]
pub struct Faults {
    /// Share of readings frames (of a text box, rows) that are never sent
    #[arg(long, value_name = "P", default_value_t = 0.0)]
    pub drop_frames: f64,
    /// Share of them that are sent twice
    #[arg(long = "dup", value_name = "P", default_value_t = 0.0)]
    pub dup_frames: f64,
    /// Probability that a bit on the line is wrong
    #[arg(long, value_name = "P", default_value_t = 0.0)]
    pub flip_bits: f64,
    /// Pull the cable at these times (needs --link)
    #[arg(long = "unplug-at", value_name = "S", value_delimiter = ',')]
    pub unplug_at_s: Vec<f64>,
    /// Leave it out this long
    #[arg(long = "unplug-for", value_name = "S", default_value_t = 1.0)]
    pub unplug_for_s: f64,
    /// Reset the box at these times
    #[arg(long = "reset-at", value_name = "S", value_delimiter = ',')]
    pub reset_at_s: Vec<f64>,
    /// Press the button at these times
    #[arg(long = "mark-at", value_name = "S", value_delimiter = ',')]
    pub mark_at_s: Vec<f64>,
    /// Box clock at power-up, in µs
    #[arg(long = "clock-start", value_name = "US", default_value_t = 0, value_parser = decimal_or_hexadecimal)]
    pub clock_start_us: u32,
    /// How much too fast the box clock runs
    #[arg(long, value_name = "PPM", default_value_t = 0.0, allow_hyphen_values = true)]
    pub drift_ppm: f64,
    /// Largest random delay of a frame
    #[arg(long, value_name = "MS", default_value_t = 0.0)]
    pub jitter_ms: f64,
    /// Major number of the protocol that it claims to speak
    #[arg(long, value_name = "N", default_value_t = firmware_protocol::VERSION_MAJOR)]
    pub protocol_major: u8,
}

/// Hexadecimal after 0x: wraps are easier to aim at in that.
fn decimal_or_hexadecimal(text: &str) -> Result<u32, std::num::ParseIntError> {
    text.strip_prefix("0x").map_or_else(|| text.parse(), |digits| u32::from_str_radix(digits, 16))
}

impl Default for Faults {
    fn default() -> Self {
        Self {
            drop_frames: 0.0,
            dup_frames: 0.0,
            flip_bits: 0.0,
            unplug_at_s: Vec::new(),
            unplug_for_s: 1.0,
            reset_at_s: Vec::new(),
            mark_at_s: Vec::new(),
            clock_start_us: 0,
            drift_ppm: 0.0,
            jitter_ms: 0.0,
            protocol_major: firmware_protocol::VERSION_MAJOR,
        }
    }
}

/// Why a virtual box cannot run, or had to stop.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BoxError {
    /// The configuration makes no sense.
    #[error("virtual box: {0}")]
    Config(&'static str),
    /// Name, serial number, channel table or rows do not fit into a frame.
    #[error("virtual box: a frame cannot be built: {0}")]
    Frame(String),
    /// There is something at the link's place that is no symlink; it is left as it is.
    #[error("{}: something is here already that is no symlink; choose another place", .0.display())]
    LinkTaken(PathBuf),
    /// A call to the system failed: what was being done, and what the system said.
    #[error("virtual box: {0}: {1}")]
    System(String, std::io::Error),
    /// The thread of the box ended without an answer.
    #[error("virtual box: its thread ended without an answer; this is a fault of the box")]
    Lost,
}

impl BoxError {
    pub(super) fn system(action: impl Into<String>, cause: impl Into<std::io::Error>) -> Self {
        Self::System(action.into(), cause.into())
    }
}
