//! `hitchwright calibrate` in talk with a virtual box on which known loads are put.

use std::thread::sleep;
use std::time::Duration;

use sample_runs::sensors::Sensor;

use crate::Outcome;
use crate::binaries::Program;
use crate::field::SOON;
use crate::process::{Ended, Running};

/// From another load to its rows at the host: a frame of 8 rows at 200 Hz, and what a busy machine adds.
const AT_REST: Duration = Duration::from_millis(250);

/// A calibration under way.
#[derive(Debug)]
pub struct CalibrationSession {
    pub talk: Running,
    pub sensor_box: Running,
    sensor: Sensor,
}

impl CalibrationSession {
    /// Starts `hitchwright calibrate` with these words for a box that runs already, and waits until it asks.
    pub fn start(sensor_box: Running, sensor: Sensor, args: &[&str]) -> Outcome<Self> {
        let seconds = if args.contains(&"--seconds") { &[][..] } else { &["--seconds", "0.3"] };
        let args = ["calibrate"].iter().chain(seconds).chain(args);
        let mut talk = Running::start_talking(Program::Hitchwright, args)?;
        talk.wait_for_line("Besides values", SOON)?;
        Ok(Self { talk, sensor_box, sensor })
    }

    /// Puts a load on, in the unit of the sensor's column, and waits until it is at rest.
    pub fn put_on(&mut self, reading: f64) -> Outcome<()> {
        let count = self.sensor.zero_count + self.sensor.counts_per_unit * reading;
        self.sensor_box.say(&format!("{}={count}", self.sensor.channel))?;
        sleep(AT_REST);
        Ok(())
    }

    /// Says a value, and waits for its count.
    pub fn take(&mut self, value: &str) -> Outcome<String> {
        self.talk.say(value)?;
        self.talk.wait_for_line("SD of", SOON)
    }

    /// Puts these loads on, one after the other, and takes each with this unit behind its number.
    pub fn take_all(&mut self, readings: &[f64], unit: &str) -> Outcome<()> {
        for reading in readings {
            self.put_on(*reading)?;
            self.take(&format!("{reading} {unit}"))?;
        }
        Ok(())
    }

    /// Says that it is done; how it ended, and the box.
    pub fn done(mut self) -> Outcome<(Ended, Running)> {
        self.talk.say("done")?;
        Ok((self.talk.wait(SOON)?, self.sensor_box))
    }
}
