//! Spectra against distance, and whether bobbing belongs to the ground or to the plow.
//!
//! Channels are put on even steps of distance, which is the pass as driven at one even speed; spectrum and peaks
//! are then those of time, and Hz become cycles a metre by that speed.

use super::bobbing::{ReportedPeaks, SearchedLoad, reported_peaks};
use super::figures::{DistanceSpectrum, PerMetre, SharperBy};
use ingest::plow::{ChannelRole, Plow};
use signals::{Even, Segment, Signals, Travel, at_even_speed};
use spectra::bobbing::{Peak, SearchBand, find_peaks};
use spectra::welch::{PowerSpectrum, segment_len_for, welch};
use stats::Estimate;

/// Above this share of the steps' own rate the smoothing takes from what is there; no peak is looked for.
const KEPT_SHARE: f64 = 0.25;

/// `None` where the speed is not known for long enough.
pub(super) fn per_metre(
    (signals, segments): (&Signals, &[Segment]),
    (tail_load_n, plow): (&[f64], &Plow),
    travel: &Travel,
    in_time: &ReportedPeaks,
) -> Option<PerMetre> {
    let depth = signals.channels.get(&ChannelRole::Depth)?;
    let even = at_even_speed(travel, signals, segments, &[tail_load_n, depth])?;
    let [tail, depth] = &even.channels[..] else { return None };
    let stretches: Vec<&[f64]> = tail.iter().map(Vec::as_slice).collect();
    let (tail, depth) = (spectrum(tail, &even)?, spectrum(depth, &even)?);
    let mut band = SearchBand::usual(&tail);
    band.high_hz = band.high_hz.min(KEPT_SHARE * even.rate_hz());
    let search = find_peaks(&tail, band).ok()?;
    let found = SearchedLoad { spectrum: &tail, search: &search, stretches, rate_hz: even.rate_hz() };
    let in_distance = reported_peaks(Some(&found), plow, Some(even.speed_mps));
    // The frequency in time is the one that is reported; a wave of the ground may show by distance alone.
    let frequency_hz =
        in_time.bobbing.as_ref().or(in_distance.bobbing.as_ref()).map(|found| found.frequency_hz);
    let wavelength = |hz: Estimate| hz.map(|hz| even.speed_mps / hz);
    let high_per_m = band.high_hz / even.speed_mps;
    Some(PerMetre {
        step_m: even.step_m,
        wavelength_m: frequency_hz.and_then(wavelength),
        sharper: sharper(in_time.peak.as_ref(), in_distance.peak.as_ref()),
        tail_load_n2_m: by_distance(&tail, even.speed_mps, high_per_m),
        depth_mm2_m: by_distance(&depth, even.speed_mps, high_per_m),
    })
}

fn spectrum(stretches: &[Vec<f64>], even: &Even) -> Option<PowerSpectrum> {
    let lengths: Vec<usize> = stretches.iter().map(Vec::len).collect();
    let slices: Vec<&[f64]> = stretches.iter().map(Vec::as_slice).collect();
    welch(&slices, even.rate_hz(), segment_len_for(&lengths, even.rate_hz())).ok()
}

/// Hz at the even speed to cycles a metre: the density grows by as much as the frequency shrinks, so that the
/// integral stays the variance.
fn by_distance(spectrum: &PowerSpectrum, speed_mps: f64, high_per_m: f64) -> DistanceSpectrum {
    let per_m: Vec<f64> = spectrum.frequency_hz.iter().map(|hz| hz / speed_mps).collect();
    let shown = per_m.partition_point(|cycles| *cycles <= high_per_m);
    DistanceSpectrum {
        density: spectrum.density.iter().take(shown).map(|density| density * speed_mps).collect(),
        cycles_per_m: per_m.into_iter().take(shown).collect(),
        dof: spectrum.dof,
    }
}

/// A wave of the ground is smeared in time when the speed changes, one of the plow by distance. Shown only where
/// the relative widths of the peak, each with its 95 % interval, lie apart; a pass at one even speed cannot show it.
fn sharper(in_time: Option<&Peak>, by_distance: Option<&Peak>) -> SharperBy {
    let width = |peak: &Peak| {
        // A peak no wider than the window makes a line is at most as wide as that.
        let line = 0.5 * peak.resolution_hz / peak.frequency_hz.value;
        peak.damping_ratio.map_or((0.0, line), |zeta| (zeta.low, zeta.high.max(line)))
    };
    match (in_time.map(width), by_distance.map(width)) {
        (Some(time), Some(distance)) if distance.1 < time.0 => SharperBy::Distance,
        (Some(time), Some(distance)) if time.1 < distance.0 => SharperBy::Time,
        _ => SharperBy::NotShown,
    }
}

#[cfg(test)]
mod tests;
