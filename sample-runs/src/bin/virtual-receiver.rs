//! A virtual GNSS receiver on a pseudo-terminal, for demos and for tests of a recorder.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Parser, ValueEnum};
use sample_runs::virtual_receiver::{
    ReceiverConfig, ReceiverReport, ReceiverSession, SentenceKind, SpeedProfile,
};

/// A virtual GNSS receiver that rides along an invented furrow in the middle of an ocean.
///
/// It prints its port's path, waits for a host to open the port, and sends NMEA 0183 sentences, in real time,
/// until the host has gone. Times are seconds since the port was first opened. All numbers are invented.
#[derive(Parser, Debug)]
#[command(name = "virtual-receiver", version)]
struct Cli {
    /// Put a symlink to the port here
    #[arg(long, value_name = "PATH")]
    link: Option<PathBuf>,
    /// Write each epoch, its fate and what is true to this CSV
    #[arg(long, value_name = "FILE.csv")]
    truth: Option<PathBuf>,
    /// Two letters that its sentences begin with
    #[arg(long, default_value = "GN")]
    talker: String,
    /// Sentences of each epoch, in order
    #[arg(long, value_enum, value_delimiter = ',', default_value = "rmc,gga,vtg")]
    sentences: Vec<SentenceName>,
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
    #[arg(long, value_name = "S", value_delimiter = ',')]
    no_fix_at: Vec<f64>,
    /// For this long
    #[arg(long, value_name = "S", default_value_t = 3.0)]
    no_fix_for: f64,
    /// Pull the cable at these times (needs --link)
    #[arg(long, value_name = "S", value_delimiter = ',')]
    unplug_at: Vec<f64>,
    /// Leave it out this long
    #[arg(long, value_name = "S", default_value_t = 1.0)]
    unplug_for: f64,
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

#[derive(Clone, Copy, Debug, ValueEnum)]
enum SentenceName {
    Rmc,
    Gga,
    Vtg,
}

fn point(text: &str) -> Result<(f64, f64), String> {
    let wrong = || format!("'{text}' is no point; write it like 3:1.6");
    let (t_s, speed_mps) = text.split_once(':').ok_or_else(wrong)?;
    let number = |text: &str| text.parse().map_err(|_| wrong());
    Ok((number(t_s)?, number(speed_mps)?))
}

impl Cli {
    fn config(self) -> Result<ReceiverConfig, String> {
        let right = || ReceiverConfig::default().profile;
        let points = match self.speed_mps {
            Some(speed_mps) => vec![(0.0, speed_mps)],
            None => self.speed_profile,
        };
        let profile = if points.is_empty() { Some(right()) } else { SpeedProfile::new(points) };
        let kind = |name: &SentenceName| match name {
            SentenceName::Rmc => SentenceKind::Rmc,
            SentenceName::Gga => SentenceKind::Gga,
            SentenceName::Vtg => SentenceKind::Vtg,
        };
        Ok(ReceiverConfig {
            link: self.link,
            truth_csv: self.truth,
            talker: self.talker,
            sentences: self.sentences.iter().map(kind).collect(),
            rate_hz: self.rate_hz,
            profile: profile.ok_or("times of a speed profile rise, and speeds are 0 to below 50 m/s")?,
            utc_s: self.utc_s,
            lasts_s: self.lasts_s,
            latency_ms: self.latency_ms,
            jitter_ms: self.jitter_ms,
            no_fix_at_s: self.no_fix_at,
            no_fix_for_s: self.no_fix_for,
            unplug_at_s: self.unplug_at,
            unplug_for_s: self.unplug_for,
            flip_bits: self.flip_bits,
            damage_every: self.damage_every,
            seed: self.seed,
            ..ReceiverConfig::default()
        })
    }
}

fn run(cli: Cli) -> Result<ReceiverReport, String> {
    let session = ReceiverSession::open(cli.config()?).map_err(|error| error.to_string())?;
    let mut out = std::io::stdout();
    // Whoever reads the path may be gone again: that is no reason not to be a receiver.
    let _ = writeln!(out, "{}", session.path().display()).and_then(|()| out.flush());
    session.run().map_err(|error| error.to_string())
}

fn main() -> ExitCode {
    match run(Cli::parse()) {
        Ok(ReceiverReport { epochs_sent, sentences, damaged, bytes_from_host }) => {
            eprintln!(
                "virtual-receiver: {epochs_sent} epochs in {sentences} sentences sent, {damaged} of them \
                 damaged; {bytes_from_host} bytes from the host"
            );
            ExitCode::SUCCESS
        }
        Err(sentence) => {
            eprintln!("virtual-receiver: {}", sentence.trim_start_matches("virtual box: "));
            ExitCode::FAILURE
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_command_line_is_sound_and_reaches_the_configuration() {
        use clap::CommandFactory;
        Cli::command().debug_assert();
        let words =
            ["virtual-receiver", "--sentences", "gga,vtg", "--speed-profile", "0:0,3:1.6", "--rate-hz", "5"];
        let config = Cli::parse_from(words).config().unwrap();
        assert_eq!(config.sentences, [SentenceKind::Gga, SentenceKind::Vtg]);
        let (speed_mps, distance_m) = config.profile.at(3.0);
        assert!(speed_mps == 1.6 && (distance_m - 2.4).abs() < 1e-12, "{speed_mps} {distance_m}");
        assert_eq!(Cli::parse_from(["virtual-receiver"]).config().unwrap().profile.at(1.0).0, 1.6);
        assert!(Cli::parse_from(["virtual-receiver", "--speed-mps", "50"]).config().is_err());
        assert!(Cli::try_parse_from(["virtual-receiver", "--speed-profile", "3"]).is_err());
    }
}
