//! From the peaks of the load that a pass is judged by to what is said of bobbing and of wheels that turn.

use super::figures::{BobbingFigures, BobbingNote, FurtherMode, Wheel, WheelTurn};
use super::spectrum::{ModesFit, searched};
use ingest::plow::Plow;
use spectra::bobbing::{Peak, PeakKind, PeakSearch, classify};
use spectra::modes::{Bins, Delay, Mode, Modes, fit_modes};
use spectra::octave::octave_rms;
use spectra::welch::PowerSpectrum;
use statics::natural_frequencies::ExpectedFrequencies;
use stats::Estimate;

/// Where bobbing is usual (common practice, no source), Hz. A search that cannot see all of it says so, and takes
/// nothing above it for bobbing: with the real peak out of sight, a faint one at 11 Hz was named.
const USUAL_HZ: (f64, f64) = (1.0, 4.0);
/// Where the modes do not describe the whole spectrum, they are fitted again from this part of the peak's frequency to
/// as many times it.
const LOCAL_REACH: f64 = 2.0;
/// A peak is seen from this many times the lowest frequency searched: its background must be known on both
/// sides.
const SEEN_FROM: f64 = 2.0;

/// Share of the time off the ground (by choice) from which on it is reported beside bobbing.
const MUCH_LIFTED: f64 = 0.2;

/// Speeds that plows are pulled at, by tractors and by teams, with room on either side, m/s: common practice, no source.
const SPEEDS_MPS: (f64, f64) = (0.6, 3.0);

/// What is reported of peaks.
#[derive(Default)]
pub(super) struct ReportedPeaks {
    pub bobbing: Option<BobbingFigures>,
    pub notes: Vec<BobbingNote>,
    pub wheel_turns: Vec<WheelTurn>,
    /// The peak of the search that bobbing was found at.
    pub peak: Option<Peak>,
    /// The modes that it was taken from.
    pub fit: Option<ModesFit>,
}

impl ReportedPeaks {
    /// Of a pass in which nothing was measured that could bob.
    pub(super) fn without_load() -> Self {
        Self { notes: vec![BobbingNote::NoLoad], ..Self::default() }
    }

    /// Says what may make bobbing another thing than the plow on its springs: a wheel that is off the ground for much
    /// of the time, and natural frequencies that the box is too slow for.
    pub(super) fn caution(
        &mut self,
        half_rate_hz: f64,
        expected: Option<&ExpectedFrequencies>,
        lifted_share: Option<f64>,
    ) {
        let much = lifted_share.filter(|share| *share > MUCH_LIFTED);
        self.notes.extend(much.map(|lifted_share| BobbingNote::MuchLifted { lifted_share }));
        self.notes.extend(expected.filter(|expected| expected.upper_hz.value > half_rate_hz).map(
            |expected| {
                let whole_plow = expected.lower_hz.value > half_rate_hz;
                BobbingNote::BoxTooSlow { half_rate_hz, whole_plow }
            },
        ));
    }

    /// Says what a damping ratio is worth where the drawbar is too steep: on the virtual plow the front wheels were off
    /// the ground for 9 to 34 % of such a pass, and the interval held the ratio of its springs in two thirds of them.
    pub(super) fn caution_too_steep(&mut self) {
        let damped = self.bobbing.as_ref().is_some_and(|bobbing| bobbing.damping_ratio.is_some());
        self.notes.extend(damped.then_some(BobbingNote::DampingTooHigh));
    }
}

/// A load with the peaks of its spectrum.
pub(super) struct SearchedLoad<'a> {
    pub spectrum: &'a PowerSpectrum,
    pub search: &'a PeakSearch,
    /// What the spectrum is of, without gaps, N.
    pub stretches: Vec<&'a [f64]>,
    pub rate_hz: f64,
}

/// Peaks as they are reported; `found` is `None` where there is no spectrum.
pub(super) fn reported_peaks(
    found: Option<&SearchedLoad<'_>>,
    plow: &Plow,
    speed_mps: Option<f64>,
) -> ReportedPeaks {
    let mut reported = ReportedPeaks::default();
    let lowest_hz = |found: &SearchedLoad<'_>| found.search.frequency_hz.first().copied();
    let Some((found, lowest_hz)) = found.and_then(|found| Some((found, lowest_hz(found)?))) else {
        reported.notes.push(BobbingNote::NoSpectrum);
        return reported;
    };
    let (spectrum, search) = (found.spectrum, found.search);
    let tail = plow.tail.wheel().map(|wheel| (Wheel::Tail, wheel.diameter.m()));
    let front = plow.front.wheels().map(|wheels| (Wheel::Front, wheels.diameter.m()));
    let (wheels, diameters_m): (Vec<Wheel>, Vec<f64>) = tail.into_iter().chain(front).unzip();
    let seen_from_hz = SEEN_FROM * lowest_hz;
    let half_blind = seen_from_hz > USUAL_HZ.0;
    let mut candidates: Vec<Peak> = Vec::new();
    for peak in &search.peaks {
        let kind = speed_mps.map_or(PeakKind::Bobbing, |speed| classify(peak, &diameters_m, speed));
        match kind {
            PeakKind::WheelTurn(index) => {
                let turn = |wheel: &Wheel| WheelTurn { wheel: *wheel, frequency_hz: peak.frequency_hz };
                reported.wheel_turns.extend(wheels.get(index).map(turn));
            }
            PeakKind::Bobbing if half_blind && peak.frequency_hz.value > USUAL_HZ.1 => {}
            PeakKind::Bobbing => candidates.push(*peak),
        }
    }
    // Slow unevenness of soil and land makes a hump below where plows bob: taken only where nothing else is seen.
    let slow = |peak: &Peak| peak.frequency_hz.high < USUAL_HZ.0;
    if !candidates.iter().all(slow) {
        candidates.retain(|peak| !slow(peak));
    }
    reported.peak = candidates.iter().max_by(|a, b| a.rms.value.total_cmp(&b.rms.value)).copied();
    let wheelbase_m = plow.tail.wheel().zip(plow.front.wheels()).map(|(tail, _)| tail.x.value.m().abs());
    let delay = match (wheelbase_m, speed_mps) {
        (None, _) => Delay::Unknown,
        (Some(wheelbase_m), Some(speed_mps)) => Delay::Known(wheelbase_m / speed_mps),
        (Some(wheelbase_m), None) => {
            let (slowest_mps, fastest_mps) = SPEEDS_MPS;
            Delay::Within(wheelbase_m / fastest_mps, wheelbase_m / slowest_mps)
        }
    };
    reported.fit = reported.peak.and_then(|peak| {
        let turns: Vec<f64> = reported.wheel_turns.iter().map(|turn| turn.frequency_hz.value).collect();
        let near = |reach: f64| modes_at(&peak, reach, spectrum, search, &turns, delay);
        let mut modes = near(f64::INFINITY);
        // What excites a plow far from its modes may have a shape of its own, which says nothing of them.
        if modes.as_ref().is_none_or(ModesFit::is_poor) {
            modes = near(LOCAL_REACH).filter(|local| !local.is_poor()).or(modes);
        }
        if let Some(ModesFit { modes, .. }) = &mut modes {
            let seen = |mode: &Mode| candidates.iter().any(|peak| within(peak.band_hz, mode));
            // Strongest first already; a sort that keeps the order of equals.
            modes.modes.sort_by_key(|mode| !seen(mode));
        }
        modes
    });
    let modes = reported.fit.as_ref().map(|fit| &fit.modes);
    reported.bobbing = reported.peak.and_then(|peak| figures(&peak, modes, found));
    reported.notes.extend(match (&reported.bobbing, speed_mps) {
        (None, _) => Some(BobbingNote::NoPeak),
        (Some(bobbing), _) if bobbing.poor_fit => Some(BobbingNote::PoorFit),
        (Some(_), None) => Some(BobbingNote::NoSpeed),
        (Some(_), Some(_)) => None,
    });
    reported.notes.extend(half_blind.then_some(BobbingNote::SlowNotSeen { seen_from_hz }));
    reported
}

fn within((low_hz, high_hz): (f64, f64), mode: &Mode) -> bool {
    mode.natural_hz.value >= low_hz && mode.natural_hz.value <= high_hz
}

/// The modes fitted to the spectrum up to `reach` times the peak's frequency and down to that part of it, starting
/// from the peak; bins at a wheel's turn do not count.
fn modes_at(
    peak: &Peak,
    reach: f64,
    spectrum: &PowerSpectrum,
    search: &PeakSearch,
    turns_hz: &[f64],
    delay: Delay,
) -> Option<ModesFit> {
    let beside = |f: &f64| turns_hz.iter().all(|hz| (f - hz).abs() > 3.0 * spectrum.bin_hz);
    let middle_hz = peak.frequency_hz.value;
    let from = search.frequency_hz.partition_point(|f| *f < middle_hz / reach);
    let to = search.frequency_hz.partition_point(|f| *f <= middle_hz * reach);
    let frequency_hz = search.frequency_hz.get(from..to)?;
    let used: Vec<bool> = frequency_hz.iter().map(beside).collect();
    let bins = Bins {
        frequency_hz,
        density: searched(spectrum, search)?.get(from..to)?,
        background: search.background.get(from..to)?,
        used: &used,
        bin_hz: spectrum.bin_hz,
        dof: spectrum.dof,
        delay,
    };
    let line = 0.5 * spectrum.bin_hz / peak.frequency_hz.value;
    let first = (peak.frequency_hz.value, peak.damping_ratio.map_or(line, |zeta| zeta.value));
    fit_modes(&bins, first).map(|modes| ModesFit { frequency_hz: frequency_hz.to_vec(), modes })
}

/// What is reported; `None` where the spectrum holds nothing around the frequency.
fn figures(peak: &Peak, modes: Option<&Modes>, found: &SearchedLoad<'_>) -> Option<BobbingFigures> {
    let (spectrum, search) = (found.spectrum, found.search);
    let octave_rms = |hz: &Estimate| octave_rms(spectrum, (&found.stretches, found.rate_hz), hz);
    let damping = |mode: &Mode| mode.resolved.then_some(mode.damping_ratio);
    let reported = |mode: &Mode| {
        let (frequency_hz, rms_n) = (mode.natural_hz, octave_rms(&mode.natural_hz)?);
        Some(FurtherMode { frequency_hz, rms_n, damping_ratio: damping(mode) })
    };
    match modes.filter(|modes| !modes.is_poor()).and_then(|modes| modes.modes.split_first()) {
        Some((strongest, others)) => {
            let FurtherMode { frequency_hz, rms_n, damping_ratio } = reported(strongest)?;
            let further_modes = others.iter().filter_map(reported).collect();
            Some(BobbingFigures { frequency_hz, rms_n, damping_ratio, further_modes, poor_fit: false })
        }
        None => {
            let mut frequency_hz = peak.frequency_hz;
            if let Some((low_hz, high_hz)) = half_power(peak, spectrum, search) {
                frequency_hz.low = frequency_hz.low.min(low_hz);
                frequency_hz.high = frequency_hz.high.max(high_hz);
            }
            // What the fit says within the peak, poor as it is, may be so too.
            let all = modes.map_or(&[][..], |modes| &modes.modes);
            let strongest = all.iter().map(|mode| mode.band_power).fold(0.0, f64::max);
            let strong = all.iter().filter(|mode| mode.band_power >= 0.25 * strongest);
            for mode in strong.filter(|mode| within(peak.band_hz, mode)) {
                frequency_hz.low = frequency_hz.low.min(mode.natural_hz.low);
                frequency_hz.high = frequency_hz.high.max(mode.natural_hz.high);
            }
            Some(BobbingFigures {
                frequency_hz,
                rms_n: octave_rms(&frequency_hz)?,
                damping_ratio: None,
                further_modes: Vec::new(),
                poor_fit: true,
            })
        }
    }
}

/// How far around a peak the spectrum, smoothed over five bins, stays above half of its top, Hz.
fn half_power(peak: &Peak, spectrum: &PowerSpectrum, search: &PeakSearch) -> Option<(f64, f64)> {
    let smooth: Vec<f64> = searched(spectrum, search)?.windows(5).map(|w| w.iter().sum::<f64>()).collect();
    let middles = search.frequency_hz.get(2..)?;
    let near = |f: f64| f >= peak.band_hz.0 && f <= peak.band_hz.1;
    let inside = middles.iter().zip(&smooth).filter(|(f, _)| near(**f));
    let top = inside.clone().map(|(_, s)| *s).fold(0.0, f64::max);
    let tall = || inside.clone().filter(|(_, s)| **s >= 0.5 * top).map(|(f, _)| *f);
    Some((tall().next()?, tall().next_back()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_makes_bobbing_another_thing_is_reported() {
        let around = |hz: f64| Estimate { value: hz, low: 0.8 * hz, high: 1.2 * hz };
        let expected = ExpectedFrequencies { lower_hz: around(3.0), upper_hz: around(9.0) };
        let notes = |half_rate_hz: f64, lifted_share: f64| {
            let mut peaks = ReportedPeaks { notes: vec![BobbingNote::NoSpeed], ..ReportedPeaks::default() };
            peaks.caution(half_rate_hz, Some(&expected), Some(lifted_share));
            assert_eq!(peaks.notes.remove(0), BobbingNote::NoSpeed);
            peaks.notes
        };
        let lifted = BobbingNote::MuchLifted { lifted_share: 0.3 };
        assert_eq!(notes(25.0, 0.0), []);
        assert_eq!(notes(25.0, 0.3), [lifted]);
        assert_eq!(notes(5.0, 0.0), [BobbingNote::BoxTooSlow { half_rate_hz: 5.0, whole_plow: false }]);
        assert_eq!(
            notes(2.0, 0.3),
            [lifted, BobbingNote::BoxTooSlow { half_rate_hz: 2.0, whole_plow: true }]
        );
    }
}
