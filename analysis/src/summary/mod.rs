//! One run, from its signals to its verdict: the whole of `summary`.

mod analyse;
mod bobbing;
mod calibrations;
mod figures;
mod lifts;
mod measure;

pub use analyse::{Analysed, SummaryError, TailSpectrum, analyse};
pub use figures::{
    BobbingFigures, DepthFigures, PullFigures, PullToTail, RunFacts, StaticsFigures, Summary,
    TailLoadFigures, WheelTurn,
};
pub use lifts::{LIFTED_SHARE_OF_STATIC, lifted_stretches};
