//! A virtual GNSS receiver beside the box: what it knows, and what a run has of it.

use std::fs;
use std::path::Path;

use ingest::gnss::GnssCounters;
use ingest::run_toml::{GnssInfo, read_run_toml};
use ingest::wire_file::{WireEvent, WireReader};

use crate::binaries::Program;
use crate::field::{Field, SOON};
use crate::process::{Ended, Running};
use crate::recording::Recorded;
use crate::run_folder::{RunEvent, Table, read_events, table_of};
use crate::{Doing, Failure, Outcome};

/// The box rides in real time, as the receiver does: 12 s in all.
pub const BOX: &str = "--speed-up 1 --working-s 2";
/// The receiver is silent before the recorder is ended, so that all it sent was heard.
const LASTS_S: &str = "11.5";

/// One epoch as the receiver knows it.
#[derive(Clone, Debug, PartialEq)]
pub struct TrueEpoch {
    /// Since the port was opened, in s.
    pub t_s: f64,
    /// UTC as it was sent, `hhmmss.ss`.
    pub tag: String,
    /// `sent`, `unplugged` or `nobody`.
    pub fate: String,
    pub has_fix: bool,
    /// Latitude, longitude, speed and course, as in the columns of `gnss.csv`.
    pub reading: [f64; 4],
    /// How many of its sentences were damaged.
    pub damaged: u64,
}

/// A run with a receiver.
#[derive(Debug)]
pub struct GnssPass {
    pub recorded: Recorded,
    pub receiver: Ended,
    pub truth: Vec<TrueEpoch>,
    pub table: Table,
    pub events: Vec<RunEvent>,
    pub info: GnssInfo,
}

/// Starts a receiver with these words on its command line, behind the link `gnss` of the field.
pub fn start_receiver(field: &Field, words: &str) -> Outcome<Running> {
    let mut args: Vec<_> = words.split_whitespace().map(std::ffi::OsString::from).collect();
    for (option, path) in [("--link", "gnss"), ("--truth", "gnss-truth.csv")] {
        args.extend([option.into(), field.path(path).into()]);
    }
    if !words.contains("--lasts-s") {
        args.extend(["--lasts-s", LASTS_S].map(Into::into));
    }
    let mut running = Running::start(Program::VirtualReceiver, args)?;
    running.wait_for_line("/", SOON)?;
    Ok(running)
}

/// Records a whole pass of the box with a receiver beside it.
pub fn gnss_pass(words: &str) -> Outcome<GnssPass> {
    let field = Field::new()?.with_box(BOX);
    let receiver = start_receiver(&field, words)?;
    let gnss = field.path("gnss").display().to_string();
    let recorded = field.record(&format!("--gnss {gnss}"))?.to_the_end()?;
    let receiver = receiver.wait(SOON)?.expect_code(0)?;
    let run = recorded.run()?;
    let truth = read_truth(&recorded.field.path("gnss-truth.csv"))?;
    let path = run.join("gnss.csv");
    let text = fs::read_to_string(&path).doing(|| format!("read {}", path.display()))?;
    let table = table_of(&text).map_err(|why| Failure(format!("gnss.csv: {why}")))?;
    let events =
        read_events(&run)?.into_iter().filter(|event| event.detail.starts_with("box=gnss; ")).collect();
    let description = read_run_toml(&run.join("run.toml")).doing(|| "read run.toml".into())?;
    let info = description.gnss.ok_or_else(|| Failure("run.toml has no [gnss]".into()))?;
    Ok(GnssPass { recorded, receiver, truth, table, events, info })
}

fn read_truth(path: &Path) -> Outcome<Vec<TrueEpoch>> {
    let mut reader = csv::Reader::from_path(path).doing(|| format!("read {}", path.display()))?;
    let mut epochs = Vec::new();
    for record in reader.records() {
        let record = record.doing(|| format!("read {}", path.display()))?;
        let cell = |n: usize| record.get(n).unwrap_or_default();
        let number = |n: usize| cell(n).parse::<f64>().doing(|| format!("read a number in {record:?}"));
        epochs.push(TrueEpoch {
            t_s: number(1)?,
            tag: cell(2).to_owned(),
            fate: cell(3).to_owned(),
            has_fix: cell(4) == "1",
            reading: [number(5)?, number(6)?, number(7)?, number(8)?],
            damaged: number(10)? as u64,
        });
    }
    Ok(epochs)
}

impl GnssPass {
    pub fn counters(&self) -> Outcome<GnssCounters> {
        self.info.counters.ok_or_else(|| Failure("run.toml has no [gnss.counters]".into()))
    }

    pub fn events_of(&self, kind: &str) -> Vec<&RunEvent> {
        self.events.iter().filter(|event| event.kind == kind).collect()
    }

    /// For each row its epoch in the truth: the next one with its place and speed, to what a sentence and the
    /// row hold of them. Each was sent, with a fix.
    pub fn epochs_of_rows(&self) -> Outcome<Vec<&TrueEpoch>> {
        // 0.5e-5 minutes of an angle and half a digit of the row; 0.0005 kn and half a digit; half a digit.
        let within = [0.5e-5 / 60.0 + 0.6e-7, 0.5e-5 / 60.0 + 0.6e-7, 0.000_26 + 0.000_51, 0.0051];
        let mut epochs = self.truth.iter();
        let mut found = Vec::new();
        for row in &self.table.rows {
            let equals = |epoch: &&TrueEpoch| {
                let cells = row.iter().skip(1).zip(epoch.reading).zip(within);
                cells.into_iter().all(|((written, sent), within)| (written.value - sent).abs() <= within)
            };
            let epoch = epochs.find(equals);
            let epoch = epoch.filter(|epoch| epoch.has_fix && epoch.fate == "sent");
            found.push(epoch.ok_or_else(|| Failure(format!("a row that was not sent so: {row:?}")))?);
        }
        Ok(found)
    }

    /// For each row by how much it lies before the arrival of its epoch's first byte, in s of run time, as the
    /// raw bytes have it.
    pub fn ahead_of_arrival_s(&self) -> Outcome<Vec<f64>> {
        let path = self.recorded.run()?.join("gnss.wire");
        let wire = fs::read(&path).doing(|| format!("read {}", path.display()))?;
        let (mut bytes, mut came_us, mut started_us) = (Vec::new(), Vec::new(), 0);
        for record in WireReader::new(&wire) {
            match record.what {
                WireEvent::Received(part) => {
                    came_us.extend(std::iter::repeat_n(record.host_us, part.len()));
                    bytes.extend(part);
                }
                WireEvent::Started => started_us = record.host_us,
                _ => {}
            }
        }
        let rows = self.table.rows.iter().zip(self.epochs_of_rows()?);
        rows.map(|(row, epoch)| {
            let tag = format!(",{},", epoch.tag);
            let at = bytes.windows(tag.len()).position(|window| window == tag.as_bytes());
            let came_us = at.and_then(|at| came_us.get(at)).copied();
            let came_us = came_us.ok_or_else(|| Failure(format!("no {tag} in {}", path.display())))?;
            let t_s = row.first().map_or(f64::NAN, |written| written.value);
            Ok((came_us as f64 - started_us as f64) / 1e6 - t_s)
        })
        .collect()
    }
}
