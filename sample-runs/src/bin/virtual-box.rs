//! A virtual sensor box on a pseudo-terminal, for demos and for tests of a recorder.

use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args, Parser};
use sample_runs::plow::{Case, Setting, Share};
use sample_runs::sensors::Sensor;
use sample_runs::virtual_box::{BoxConfig, BoxReport, Faults, HeldCounts, VirtualBox};
use strum::VariantNames;

/// A virtual sensor box on an invented plow, behind a port that looks like a serial port.
///
/// It prints the port's path, waits for a host to say start (or, with --text, to open the port) and sends
/// one test pass: plow in the air, at work, in the air again. It ends when the host has read it all, stops
/// it or closes the port. All numbers are invented.
#[derive(Parser, Debug)]
#[command(name = "virtual-box", version)]
struct Cli {
    /// Put a symlink to the port here
    #[arg(long, value_name = "PATH")]
    link: Option<PathBuf>,
    /// Run this many times faster than real time
    #[arg(long, value_name = "N", default_value_t = 1.0)]
    speed_up: f64,
    /// Keep the port open at most this long for a slow host after the pass, in s of the wall clock
    #[arg(long, value_name = "S", default_value_t = 10.0)]
    linger_s: f64,
    /// Write each sampled row, its fate and the true readings to this CSV
    #[arg(long, value_name = "FILE.csv")]
    truth: Option<PathBuf>,
    /// Write the truth of the whole pass to this TOML
    #[arg(long, value_name = "FILE.toml")]
    pass_truth: Option<PathBuf>,
    #[command(flatten)]
    pass: PassArgs,
    #[command(flatten)]
    box_itself: BoxArgs,
    #[command(flatten)]
    faults: Faults,
}

/// Which pass the box rides along.
#[derive(Args, Debug)]
#[command(next_help_heading = "The pass")]
struct PassArgs {
    /// Hitch setting and shares
    #[arg(long, value_enum, default_value_t = Case::Balanced)]
    case: Case,
    /// Hole at the plow, 1 (lowest) to 9, instead of the case's
    #[arg(long, value_name = "HOLE")]
    plow_hole: Option<usize>,
    /// Hole at the tractor, 1 (lowest) to 7, instead of the case's
    #[arg(long, value_name = "HOLE")]
    tractor_hole: Option<usize>,
    /// Condition of the shares, instead of the case's
    #[arg(long, value_parser = PossibleValuesParser::new(Share::VARIANTS).try_map(|name| name.parse::<Share>()))]
    share: Option<Share>,
    /// Strip of the field: the same number is the same ground
    #[arg(long, value_name = "N", default_value_t = 1)]
    field_seed: u64,
    /// Time at working depth in s
    #[arg(long, value_name = "S", default_value_t = 60.0)]
    working_s: f64,
    /// Time standing with a slack drawbar before it moves, in s
    #[arg(long, value_name = "S", default_value_t = 0.0)]
    stand_s: f64,
    /// Forward speed in m/s
    #[arg(long, value_name = "M_PER_S", default_value_t = 1.6)]
    speed_mps: f64,
}

/// The box and its sensors.
#[derive(Args, Debug)]
#[command(next_help_heading = "The box")]
struct BoxArgs {
    /// Name that it gives
    #[arg(long, default_value = "virtual-box")]
    name: String,
    /// Serial number that it gives
    #[arg(long, default_value = "VB-0001")]
    serial: String,
    /// Its channels, in order
    #[arg(long, value_delimiter = ',', value_parser = channel, default_value = "pull,tail,depth")]
    channels: Vec<Sensor>,
    /// Hold this count on a channel, as a known load on a bench does; a line CHANNEL=COUNT on standard input
    /// holds another one from then on
    #[arg(long, value_name = "CHANNEL=COUNT", value_parser = HeldCounts::parse)]
    hold: Vec<(Sensor, f64)>,
    /// Standard deviation of held counts
    #[arg(long, value_name = "COUNTS", default_value_t = 0.0)]
    noise: f64,
    /// Rows per second
    #[arg(long, value_name = "HZ", default_value_t = 200.0)]
    rate_hz: f64,
    /// Rows in a frame
    #[arg(long, value_name = "N", default_value_t = 8)]
    rows_per_frame: usize,
    /// Speak in lines of text (sentences in the form of NMEA 0183), one row in each, from the opening of the
    /// port on
    #[arg(long)]
    text: bool,
    /// Be a text box that can do no more than print: it hears nothing
    #[arg(long, requires = "text")]
    deaf: bool,
    /// Seed of the sensor noise and of the faults
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
}

fn channel(name: &str) -> Result<Sensor, String> {
    let known = || Sensor::every().map(|sensor| sensor.channel).collect::<Vec<_>>().join(", ");
    Sensor::by_channel(name).ok_or_else(|| format!("no such channel; there are {}", known()))
}

impl Cli {
    fn config(self) -> Result<BoxConfig, String> {
        let (pass, told) = (self.pass, self.box_itself);
        let (plow_hole, tractor_hole) = pass.case.holes();
        let (plow_hole, tractor_hole) =
            (pass.plow_hole.unwrap_or(plow_hole), pass.tractor_hole.unwrap_or(tractor_hole));
        let mut spec = pass.case.pass(pass.field_seed, pass.working_s);
        spec.setting = Setting::by_holes(plow_hole, tractor_hole).ok_or_else(|| {
            format!(
                "no such holes: {plow_hole} of 1 to 9 at the plow, {tractor_hole} of 1 to 7 at the tractor"
            )
        })?;
        spec.share = pass.share.unwrap_or(spec.share);
        spec.times.standing_s = pass.stand_s;
        spec.speed_mps = pass.speed_mps;
        let held = HeldCounts::default();
        told.hold.into_iter().for_each(|(sensor, count)| held.set(sensor, count));
        Ok(BoxConfig {
            pass: spec,
            name: told.name,
            serial: told.serial,
            sensors: told.channels,
            held,
            held_noise_sd: told.noise,
            seed: told.seed,
            // A rate out of range stays out of range: the cast holds at 0 and at the largest number.
            row_rate_mhz: (told.rate_hz * 1000.0).round() as u32,
            rows_per_frame: told.rows_per_frame,
            text: told.text,
            deaf: told.deaf,
            speed_up: self.speed_up,
            link: self.link,
            truth_csv: self.truth,
            linger_s: self.linger_s,
            faults: self.faults,
        })
    }
}

/// Each line on standard input holds another count, until there are no more lines.
fn listen_for_loads(held: HeldCounts) {
    std::thread::spawn(move || {
        for line in std::io::stdin().lines().map_while(Result::ok) {
            match HeldCounts::parse(&line) {
                Ok((sensor, count)) => held.set(sensor, count),
                Err(sentence) => eprintln!("virtual-box: {sentence}"),
            }
        }
    });
}

fn run(mut cli: Cli) -> Result<(), String> {
    let pass_truth = cli.pass_truth.take();
    let config = cli.config()?;
    listen_for_loads(config.held.clone());
    let handle = VirtualBox::open(config).map_err(|error| error.to_string())?;
    let mut out = std::io::stdout();
    // Whoever reads the path may be gone again: that is no reason not to be a box.
    let _ = writeln!(out, "{}", handle.path().display()).and_then(|()| out.flush());
    let report = handle.join().map_err(|error| error.to_string())?;
    let BoxReport { rows_sampled, rows_sent, boots, truth } = report;
    eprintln!("virtual-box: {rows_sampled} rows sampled, {rows_sent} sent undamaged, powered up {boots} x");
    let Some(path) = pass_truth else { return Ok(()) };
    let Some(truth) = truth else {
        return Err("the pass never reached its working part, so there is no truth to write".to_owned());
    };
    std::fs::write(&path, truth.to_toml()).map_err(|cause| format!("{}: {cause}", path.display()))
}

fn main() -> ExitCode {
    match run(Cli::parse()) {
        Ok(()) => ExitCode::SUCCESS,
        Err(sentence) => {
            eprintln!("virtual-box: {}", sentence.trim_start_matches("virtual box: "));
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
        let words = "virtual-box --case too-flat --tractor-hole 7 --channels depth,pull --rate-hz 100 \
                     --clock-start 0xFFFFFFF0 --drift-ppm -20 --reset-at 3,9.5";
        let cli = Cli::parse_from(words.split_whitespace());
        let config = cli.config().unwrap();
        assert_eq!(config.pass.setting, Setting::by_holes(Case::TooFlat.holes().0, 7).unwrap());
        assert_eq!(config.sensors.iter().map(|s| s.channel).collect::<Vec<_>>(), ["depth", "pull"]);
        assert_eq!(config.row_rate_mhz, 100_000);
        assert_eq!(config.faults.clock_start_us, 0xFFFF_FFF0);
        assert_eq!(config.faults.drift_ppm, -20.0);
        assert_eq!(config.faults.reset_at_s, [3.0, 9.5]);
    }

    #[test]
    fn what_does_not_exist_is_refused() {
        for wrong in [["--channels", "pull,none"], ["--case", "fine"], ["--clock-start", "4294967296"]] {
            assert!(Cli::try_parse_from(["virtual-box"].iter().chain(&wrong)).is_err(), "{wrong:?}");
        }
        assert!(Cli::parse_from(["virtual-box", "--plow-hole", "10"]).config().is_err());
    }
}
