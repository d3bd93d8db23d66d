//! One of several runs, as they are taken together.

use crate::inputs::RunFigures;
use ingest::plow::Setting;
use stats::Estimate;

/// What one run says.
#[derive(Clone, Debug)]
pub struct RunReadings {
    /// What it is called.
    pub name: String,
    /// Name of its setting.
    pub setting_name: String,
    /// Its holes.
    pub setting: Setting,
    /// Mean forces, depth, pitch and inclination.
    pub figures: RunFigures,
    /// Low-frequency gain from pull to tail load, N per N; `None` if it is not shown or the tail wheel lifts.
    pub gain_n_per_n: Option<Estimate>,
}
