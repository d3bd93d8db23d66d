//! Speed and way over the working part, and what is to be said of them.

use super::figures::TravelFigures;
use super::measure::{self, Channel};
use signals::run::{GnssTable, Notice};
use signals::{Speed, Travel, WorkingPart};
use stats::Estimate;

/// A speed that is missing for less than this is a matter of where readings begin and end.
const MISSING_REPORTED_S: f64 = 1.0;
/// The way by the speed and the way by the places may differ by this share before it is reported.
const WAYS_APART: f64 = 0.05;
/// Under this way the error of two places is more than that share: a metre or two of a receiver's own within
/// a minute (common practice, no source).
const WAY_M_MIN: f64 = 40.0;

/// Figures, and notices.
pub(super) fn travel_figures(
    speed: &Speed<'_>,
    travel: &Travel,
    part: WorkingPart,
    gnss: Option<&GnssTable>,
) -> (TravelFigures, Vec<Notice>) {
    let WorkingPart { from_s, to_s } = part;
    let (distance_m, known_s) = travel.between(from_s, to_s);
    let missing_s = (to_s - from_s - known_s).max(0.0);
    let segments = speed.signals.part(from_s, to_s);
    let channel = Channel { signals: &speed.signals, segments: &segments, values: speed.values() };
    let mean_mps: Option<Estimate> = measure::pull(channel).ok().map(|figures| figures.mean_n);
    let mut notices = Vec::new();
    if missing_s >= MISSING_REPORTED_S {
        notices.push(Notice::SpeedMissing { from: speed.from, missing_s });
    }
    let ways =
        gnss.map(|gnss| travel.by_places(gnss, from_s, to_s)).filter(|(_, by_speed_m)| *by_speed_m > 0.0);
    if let Some((places_m, by_speed_m)) = ways
        && by_speed_m >= WAY_M_MIN
        && (places_m / by_speed_m - 1.0).abs() > WAYS_APART
    {
        notices.push(Notice::WaysApart { from: speed.from, by_speed_m, by_places_m: places_m });
    }
    let figures = TravelFigures {
        speed_from: speed.from,
        mean_mps,
        distance_m,
        missing_s,
        places_m: ways.map(|(places_m, _)| places_m),
        between_places_m: ways.map(|(_, by_speed_m)| by_speed_m),
    };
    (figures, notices)
}
