//! Which run a summary is of.

use ingest::plow::ShareCondition;
use ingest::run_toml::{RunDescription, RunState};
use jiff::civil::Date;
use schemars::JsonSchema;
use serde::Serialize;

/// Which run this is, and what it was made with.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct RunFacts {
    /// Name of the run folder.
    pub id: String,
    /// When it was started.
    pub started: String,
    /// Name of the plow.
    pub plow: String,
    /// Name of the setting.
    pub setting: String,
    /// Hole at the plow.
    pub plow_hole: String,
    /// Hole at the tractor.
    pub tractor_hole: String,
    /// Field, as it was reported.
    pub field: Option<String>,
    /// Soil, as it was reported.
    pub soil: Option<String>,
    /// The operator's note.
    pub note: Option<String>,
    /// Condition of the shares.
    pub share: ShareCondition,
    /// Software that recorded it.
    pub recorded_with: String,
    /// Software that analyzed it.
    pub analysed_with: String,
    /// Day of each calibration, by channel.
    pub calibrated: Vec<(String, String)>,
    /// Whether the recording was ended properly.
    pub state: RunState,
    /// How it ended, as the recorder wrote it down.
    pub ended: Option<String>,
}

impl RunFacts {
    /// What a run's description says of it.
    pub(super) fn of(description: &RunDescription) -> Self {
        let RunDescription { run, setting, plow, .. } = description;
        let sensors = plow.sensors.iter().filter(|_| run.state != RunState::Imported);
        Self {
            id: run.id.clone(),
            started: run.started.clone(),
            plow: plow.name.clone(),
            setting: run.setting_name.clone(),
            plow_hole: setting.plow_hole.name.clone(),
            tractor_hole: setting.tractor_hole.name.clone(),
            field: run.field.clone(),
            soil: run.soil.clone(),
            note: run.note.clone(),
            share: run.share,
            recorded_with: run.software.clone(),
            analysed_with: concat!("hitchwright ", env!("CARGO_PKG_VERSION")).to_owned(),
            calibrated: sensors
                .map(|sensor| (sensor.channel.clone(), sensor.calibration.date.clone()))
                .collect(),
            state: run.state,
            ended: run.ended.clone(),
        }
    }

    /// The day in its start, ISO 8601; `None` where somebody has garbled that.
    pub fn day(&self) -> Option<Date> {
        self.started.get(..10)?.parse().ok()
    }
}
