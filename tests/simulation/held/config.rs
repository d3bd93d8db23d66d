//! What a recorder in a simulated world is told.

use std::path::{Path, PathBuf};

use ingest::plow::read_plow_text;
use ingest::recorder::{Begin, Destination, GnssPort, RecordConfig};
use sample_runs::sensors::Sensor;

use crate::{Doing, Outcome, plow_toml};

/// To record a plow with these sensors.
pub fn record_config(
    sensors: &[Sensor],
    (ports, gnss): (Vec<PathBuf>, Option<GnssPort>),
    begin: Begin,
) -> Outcome<RecordConfig> {
    let plow = read_plow_text(&plow_toml(sensors), Path::new("plow.toml"));
    Ok(RecordConfig {
        ports,
        baud: 115_200,
        gnss,
        plow: plow.doing(|| "read the plow".to_owned())?,
        begin,
        setting_name: Some("as-found".to_owned()),
        setting_assumed: false,
        share: None,
        field: None,
        soil: None,
        soil_class: None,
        note: None,
        destination: Destination::In(PathBuf::from(".")),
        duration: None,
        stop_when_gone: None,
        passes_before: 0,
        software: "simulation".to_owned(),
    })
}
