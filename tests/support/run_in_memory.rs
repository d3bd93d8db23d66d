//! A run as it would be read from its folder, made in memory.

use ingest::plow::Plow;
use ingest::run_toml::{RunDescription, RunInfo, RunState};
use signals::run::{Run, Table};

/// A run of one box of this plow, with the shares as described, in this setting of it.
pub fn run_in_memory(id: String, plow: Plow, setting_name: &str, table: Table) -> Run {
    let run = RunInfo {
        id,
        started: "2027-04-11T09:14:00+00:00".to_owned(),
        setting_name: setting_name.to_owned(),
        setting_assumed: false,
        field: None,
        soil: None,
        soil_class: None,
        note: None,
        share: plow.bottoms.share,
        software: "virtual".to_owned(),
        state: RunState::Ended,
        ended: None,
        lasted_s: None,
    };
    let setting = plow.settings[setting_name].clone();
    let description = RunDescription { run, setting, plow, boxes: Vec::new(), gnss: None, zero: Vec::new() };
    Run { description, tables: vec![table], gnss: None, events: Vec::new(), notices: Vec::new() }
}
