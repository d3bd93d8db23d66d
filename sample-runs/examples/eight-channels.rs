//! Four virtual boxes of eight channels each, as many as the protocol lets a box have: what the recorder's share of a
//! processor, its memory and its losses are measured on.
//!
//! `cargo run --release -p sample-runs --example eight-channels -- FOLDER WORKING_S RATE_HZ` puts four links, `box1` to
//! `box4`, into the folder, each for a `--port`, and `eight.toml`, the lines of the eight sensors for a `plow.toml`.

use std::error::Error;
use std::fmt::Write as _;
use std::path::PathBuf;

use firmware_protocol::ChannelKind;
use sample_runs::plow::Case;
use sample_runs::sensors::Sensor;
use sample_runs::virtual_box::{BoxConfig, VirtualBox};

const BOXES: u64 = 4;

/// All that the virtual plow has, and two that go by others of its readings.
fn eight() -> [Sensor; 8] {
    let side = Sensor {
        kind: ChannelKind::Side,
        true_reading: |state| state.pull_n * 0.1,
        channel: "side",
        column: "side_n",
        ..Sensor::PULL
    };
    let drawbar = Sensor {
        kind: ChannelKind::DrawbarAngle,
        channel: "drawbar",
        column: "drawbar_deg",
        ..Sensor::PITCH
    };
    let [pull, tail, depth, front_load, pitch] = Sensor::ALL;
    [pull, tail, depth, front_load, pitch, Sensor::SPEED, side, drawbar]
}

/// How each is calibrated, as a `plow.toml` says it.
fn described() -> Result<String, std::fmt::Error> {
    let mut text = String::new();
    for sensor in eight() {
        let (measures, unit, at) = match sensor.kind {
            ChannelKind::TailDeflection => ("tail", "mm", 50.0),
            ChannelKind::Depth => ("depth", "mm", 100.0),
            ChannelKind::Pitch => ("pitch", "deg", 10.0),
            ChannelKind::DrawbarAngle => ("drawbar-angle", "deg", 10.0),
            ChannelKind::Speed => ("speed", "m/s", 2.0),
            _ => (sensor.channel, "N", 4_000.0),
        };
        let (zero, full, (low, high)) = (sensor.count(0.0), sensor.count(at), sensor.count_limits);
        writeln!(
            text,
            "[[sensors]]\nchannel = \"{}\"\nmeasures = \"{measures}\"\ncalibration = {{ date = \"2026-03-01\", points = \
             [[{zero}, \"0 {unit}\"], [{full}, \"{at} {unit}\"]] }}\ncount_limits = [{low}, {high}]\n",
            sensor.channel
        )?;
    }
    Ok(text)
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let folder = PathBuf::from(words.next().ok_or("which folder?")?);
    let working_s = words.next().map_or(Ok(60.0), |word| word.parse::<f64>())?;
    let rate_hz = words.next().map_or(Ok(1_000), |word| word.parse::<u32>())?;
    std::fs::write(folder.join("eight.toml"), described()?)?;
    let boxes = (1..=BOXES)
        .map(|n| {
            VirtualBox::open(BoxConfig {
                name: format!("box-{n}"),
                serial: format!("E-{n}"),
                sensors: eight().to_vec(),
                seed: n,
                row_rate_mhz: rate_hz * 1_000,
                link: Some(folder.join(format!("box{n}"))),
                ..BoxConfig::of_case(Case::Balanced, 1, working_s)
            })
        })
        .collect::<Result<Vec<_>, _>>()?;
    for (n, running) in boxes.into_iter().enumerate() {
        let report = running.join()?;
        println!("box{}: {} rows sampled, {} sent", n + 1, report.rows_sampled, report.rows_sent);
    }
    Ok(())
}
