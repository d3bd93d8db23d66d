//! The truth file: each row that the box sampled, what became of it, and what was true.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};

use super::BoxError;
use super::damage::Fate;
use crate::plow::TrueState;
use crate::sensors::Sensor;

/// One row as the box knows it.
#[derive(Clone, Debug)]
pub(super) struct SampledRow {
    pub(super) boot: u32,
    pub(super) number: u32,
    pub(super) clock_us: u32,
    /// The system's monotonic clock at its sampling, in s.
    pub(super) host_s: f64,
    pub(super) counts: Vec<i32>,
    pub(super) state: TrueState,
}

/// A CSV (RFC 4180) with the columns `boot,row,clock_us,fate`, a `_count` column for each channel,
/// `t_s` of the pass, each channel's true reading without noise under its column's name, and `host_s`, the
/// system's monotonic clock, by which rows of several boxes can be set side by side.
#[derive(Debug)]
pub(super) struct TruthFile {
    out: BufWriter<File>,
    path: PathBuf,
    sensors: Vec<Sensor>,
}

impl TruthFile {
    /// A new file at `path`, with its header; a file that is there already is not written over.
    pub(super) fn create(path: &Path, sensors: &[Sensor]) -> Result<Self, BoxError> {
        let failed = |cause| BoxError::system(format!("creating the truth file {}", path.display()), cause);
        let out = BufWriter::new(File::create_new(path).map_err(failed)?);
        let mut file = Self { out, path: path.to_owned(), sensors: sensors.to_vec() };
        let counts = sensors.iter().map(|sensor| format!(",{}_count", sensor.channel.replace('-', "_")));
        let readings = sensors.iter().map(|sensor| format!(",true_{}", sensor.column));
        let (counts, readings) = (counts.collect::<String>(), readings.collect::<String>());
        file.line(&format!("boot,row,clock_us,fate{counts},t_s{readings},host_s"))?;
        Ok(file)
    }

    /// Writes one row.
    pub(super) fn row(&mut self, row: &SampledRow, fate: Fate) -> Result<(), BoxError> {
        let SampledRow { boot, number, clock_us, host_s, counts, state } = row;
        let counts: String = counts.iter().map(|count| format!(",{count}")).collect();
        let reading = |sensor: &Sensor| format!(",{:.4}", (sensor.true_reading)(state));
        let readings: String = self.sensors.iter().map(reading).collect();
        let t_s = state.t_s;
        self.line(&format!("{boot},{number},{clock_us},{fate}{counts},{t_s:.6}{readings},{host_s:.6}"))
    }

    /// Puts what was written into the file: a box that is killed leaves all but its last second, and an
    /// error is not lost with the buffer.
    pub(super) fn flush(&mut self) -> Result<(), BoxError> {
        self.out.flush().map_err(|cause| Self::failed(&self.path, cause))
    }

    fn line(&mut self, text: &str) -> Result<(), BoxError> {
        writeln!(self.out, "{text}").map_err(|cause| Self::failed(&self.path, cause))
    }

    fn failed(path: &Path, cause: std::io::Error) -> BoxError {
        BoxError::system(format!("writing the truth file {}", path.display()), cause)
    }
}
