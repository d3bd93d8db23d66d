//! The sensor boxes: whether they are there, and how many rows come of each.

use super::snapshot::BoxNow;
use ingest::recorder::{LiveRows, Progress};
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// Over how long rows a second are counted.
const RATE_OVER: Duration = Duration::from_secs(1);

/// All boxes, in the order of their ports.
#[derive(Debug, Default)]
pub(super) struct Boxes(Vec<BoxState>);

#[derive(Debug)]
struct BoxState {
    port: String,
    rows: u64,
    since: Instant,
    rows_per_s: f64,
    away: bool,
}

impl Boxes {
    /// On these ports, before anything came.
    pub fn on(ports: &[PathBuf], since: Instant) -> Self {
        let of = |port: &PathBuf| BoxState {
            port: port.display().to_string(),
            rows: 0,
            since,
            rows_per_s: 0.0,
            away: false,
        };
        Self(ports.iter().map(of).collect())
    }

    /// Counts rows that came.
    pub fn count(&mut self, rows: &LiveRows<'_>) {
        if let Some(sensor_box) = self.0.get_mut(rows.number) {
            sensor_box.rows += rows.rows.len() as u64;
        }
    }

    /// Takes in how the recording goes.
    pub fn progress(&mut self, progress: &Progress, at: Instant) {
        for sensor_box in &mut self.0 {
            let over = at.saturating_duration_since(sensor_box.since);
            if over >= RATE_OVER {
                sensor_box.rows_per_s = sensor_box.rows as f64 / over.as_secs_f64();
                (sensor_box.rows, sensor_box.since) = (0, at);
            }
        }
        for (sensor_box, away) in self.0.iter_mut().zip(&progress.boxes_away) {
            sensor_box.away = away.is_some();
        }
    }

    /// As they are shown.
    pub fn now(&self) -> Vec<BoxNow> {
        self.0.iter().map(BoxState::now).collect()
    }
}

impl BoxState {
    /// It is called by the last part of its port.
    fn now(&self) -> BoxNow {
        let name = self.port.rsplit('/').next().unwrap_or(&self.port).to_owned();
        BoxNow { name, port: self.port.clone(), away: self.away, rows_per_s: self.rows_per_s }
    }
}
