//! One run, from its signals to its verdict: the whole of `summary`.

mod analyse;
mod bobbing;
mod calibrations;
mod carried;
mod causes;
mod draft;
mod figures;
mod measure;
mod notices;
mod own;
mod parts;
mod per_metre;
mod run_facts;
mod seeds;
mod spectrum;
mod stray;
mod travel;
mod zero_check;

pub(crate) use analyse::COHERENCE_MIN;
pub use analyse::{Analysed, SummaryError, analyse};
pub use calibrations::{CalibrationChecks, CalibrationWarning};
pub use carried::Carried;
pub use figures::{
    BobbingFigures, BobbingNote, DepthFigures, DistanceSpectrum, FurtherMode, PerMetre, PullFigures,
    PullToTail, SharperBy, StaticsFigures, Summary, TailLoadFigures, TravelFigures, Wheel, WheelTurn,
};
pub use measure::lifted_stretches;
pub use own::{OwnFigures, OwnReadings, OwnSpectrum};
pub(crate) use parts::SLOW_HZ;
pub use run_facts::RunFacts;
pub use seeds::Seeds;
pub use spectrum::{FitFigures, LoadSpectrum, ModeFigures, PeakFigures, SpectrumFigures};
pub(crate) use stray::STILL_SHARE;
pub use zero_check::{NoZeroCheck, ZeroCheck, ZeroVerdict};
