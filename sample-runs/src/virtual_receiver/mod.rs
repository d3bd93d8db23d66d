//! A GNSS receiver without the receiver: NMEA 0183 sentences on a pseudo-terminal, for a recorder to listen to.
//!
//! It rides along an invented straight furrow in the middle of an ocean, where no field is, with a speed that
//! is given. Its time begins when a host first opens the port. It never expects anything from the host, and
//! counts the bytes that came all the same.

mod sentences;
mod session;
mod track;

use std::path::PathBuf;

use sentences::SentenceKind;
pub use session::{ReceiverReport, ReceiverSession};
use track::SpeedProfile;

use crate::plow::Case;
use crate::virtual_box::BoxError;
use crate::virtual_box::config::{PULLED_WITHOUT_LINK, refuse_unless};

/// A virtual GNSS receiver that rides along an invented furrow in the middle of an ocean.
///
/// It prints its port's path, waits for a host to open the port, and sends NMEA 0183 sentences, in real time,
/// until the host has gone. Times are seconds since the port was first opened. All numbers are invented.
#[derive(Clone, Debug, clap::Parser)]
#[command(name = "virtual-receiver", version)]
pub struct ReceiverConfig {
    /// Put a symlink to the port here
    #[arg(long, value_name = "PATH")]
    link: Option<PathBuf>,
    /// Write each epoch, its fate and what is true to this CSV
    #[arg(long = "truth", value_name = "FILE.csv")]
    truth_csv: Option<PathBuf>,
    /// Two letters that its sentences begin with
    #[arg(long, default_value = "GN")]
    talker: String,
    /// Sentences of each epoch, in order
    #[arg(long, value_enum, value_delimiter = ',', default_value = "rmc,gga,vtg")]
    sentences: Vec<SentenceKind>,
    /// Epochs in a second, 1 to 10
    #[arg(long, value_name = "HZ", default_value_t = 1)]
    rate_hz: u32,
    /// Speed in m/s; without it, that of the virtual plow
    #[arg(long, value_name = "M_PER_S", conflicts_with = "speed_profile")]
    speed_mps: Option<f64>,
    /// Speed against time, as S:M_PER_S points with straight lines between them, such as 0:0,3:1.6
    #[arg(long, value_name = "POINTS", value_delimiter = ',', value_parser = point)]
    speed_profile: Vec<(f64, f64)>,
    /// UTC time of day of the first epoch in s, such as 86395 for 5 s before midnight
    #[arg(long, value_name = "S", default_value_t = 12 * 3600)]
    utc_s: u32,
    /// Fall silent after this time
    #[arg(long, value_name = "S", default_value_t = 86_400.0)]
    lasts_s: f64,
    /// From an epoch to its first byte
    #[arg(long, value_name = "MS", default_value_t = 0.0)]
    latency_ms: f64,
    /// Largest random delay on top of it
    #[arg(long, value_name = "MS", default_value_t = 0.0)]
    jitter_ms: f64,
    /// Lose the fix at these times
    #[arg(long = "no-fix-at", value_name = "S", value_delimiter = ',')]
    no_fix_at_s: Vec<f64>,
    /// For this long
    #[arg(long = "no-fix-for", value_name = "S", default_value_t = 3.0)]
    no_fix_for_s: f64,
    /// Pull the cable at these times (needs --link)
    #[arg(long = "unplug-at", value_name = "S", value_delimiter = ',')]
    unplug_at_s: Vec<f64>,
    /// Leave it out this long
    #[arg(long = "unplug-for", value_name = "S", default_value_t = 1.0)]
    unplug_for_s: f64,
    /// Probability that a bit on the line is wrong
    #[arg(long, value_name = "P", default_value_t = 0.0)]
    flip_bits: f64,
    /// Make one digit of every so many sentences another one; 0 for never
    #[arg(long, value_name = "N", default_value_t = 0)]
    damage_every: u64,
    /// Seed of jitter and wrong bits
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

fn point(text: &str) -> Result<(f64, f64), String> {
    let wrong = || format!("'{text}' is no point; write it like 3:1.6");
    let (t_s, speed_mps) = text.split_once(':').ok_or_else(wrong)?;
    let number = |text: &str| text.parse().map_err(|_| wrong());
    Ok((number(t_s)?, number(speed_mps)?))
}

impl ReceiverConfig {
    /// Everything that makes no sense is refused before a port is opened.
    fn check(&self) -> Result<(), ReceiverError> {
        let talker = self.talker.len() == 2 && self.talker.bytes().all(|byte| byte.is_ascii_uppercase());
        let times = [self.lasts_s, self.latency_ms, self.jitter_ms, self.no_fix_for_s, self.unplug_for_s];
        let mut moments = self.no_fix_at_s.iter().chain(&self.unplug_at_s).chain(&times);
        let moments = moments.all(|t| t.is_finite() && *t >= 0.0);
        let linked = self.unplug_at_s.is_empty() || self.link.is_some();
        refuse_unless(&[
            (talker, "a talker is two capital letters"),
            (
                !self.sentences.is_empty() && (1..=10).contains(&self.rate_hz),
                "a receiver sends one sentence or more, 1 to 10 times a second",
            ),
            (self.utc_s < 86_400, "a time of day is below 24 h, a course 0 to below 360 degrees"),
            (
                moments && (0.0..=1.0).contains(&self.flip_bits),
                "times are 0 or more, a probability lies between 0 and 1",
            ),
            (linked, PULLED_WITHOUT_LINK),
        ])
        .map_err(ReceiverError::Config)
    }

    fn profile(&self) -> Result<SpeedProfile, ReceiverError> {
        let points = match (self.speed_mps, &self.speed_profile[..]) {
            (Some(speed_mps), _) => vec![(0.0, speed_mps)],
            (None, []) => vec![(0.0, Case::Balanced.pass(1, 1.0).speed_mps)],
            (None, points) => points.to_vec(),
        };
        let wrong = "times of a speed profile rise, and speeds are 0 to below 50 m/s";
        SpeedProfile::new(points).ok_or(ReceiverError::Config(wrong))
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
    /// The truth file, and what the system said of it.
    #[error("{}: {}", .0.display(), .1)]
    Truth(PathBuf, std::io::Error),
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::{CommandFactory, Parser};

    #[test]
    fn the_command_line_is_sound_and_reaches_the_configuration() {
        ReceiverConfig::command().debug_assert();
        let words =
            ["virtual-receiver", "--sentences", "gga,vtg", "--speed-profile", "0:0,3:1.6", "--rate-hz", "5"];
        let config = ReceiverConfig::parse_from(words);
        assert_eq!(config.sentences, [SentenceKind::Gga, SentenceKind::Vtg]);
        let (speed_mps, distance_m) = config.profile().unwrap().at(3.0);
        assert!(speed_mps == 1.6 && (distance_m - 2.4).abs() < 1e-12, "{speed_mps} {distance_m}");
        assert_eq!(ReceiverConfig::parse_from(["virtual-receiver"]).profile().unwrap().at(1.0).0, 1.6);
        assert!(ReceiverConfig::parse_from(["virtual-receiver", "--speed-mps", "50"]).profile().is_err());
        assert!(ReceiverConfig::try_parse_from(["virtual-receiver", "--speed-profile", "3"]).is_err());
        assert!(ReceiverConfig::parse_from(["virtual-receiver"]).check().is_ok());
        for wrong in [["--talker", "gn"], ["--rate-hz", "11"], ["--utc-s", "86400"], ["--unplug-at", "1"]] {
            let config = ReceiverConfig::parse_from(["virtual-receiver"].iter().chain(&wrong));
            assert!(config.check().is_err(), "{wrong:?}");
        }
    }
}
