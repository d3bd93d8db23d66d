//! From the peaks of the tail load's spectrum to what is said of bobbing and of wheels that turn.

use super::figures::{BobbingFigures, FurtherMode, WheelTurn};
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

/// Share of the time off the ground (by choice) from which on it is said beside bobbing.
const MUCH_LIFTED: f64 = 0.2;

/// Names of the wheels in [`WheelTurn`].
pub(super) const TAIL_WHEEL: &str = "tail wheel";
pub(super) const FRONT_WHEELS: &str = "front wheels";

/// Speeds that plows are pulled at, by tractors and by teams, with room on either side, m/s: common practice, no source.
const SPEEDS_MPS: (f64, f64) = (0.6, 3.0);

/// What is told of peaks.
#[derive(Default)]
pub(super) struct ToldPeaks {
    pub bobbing: Option<BobbingFigures>,
    pub note: Option<String>,
    pub wheel_turns: Vec<WheelTurn>,
    /// The peak of the search that bobbing was found at.
    pub peak: Option<Peak>,
}

impl ToldPeaks {
    /// Says what may make bobbing another thing than the plow on its springs: a wheel that is off the ground for much
    /// of the time, and natural frequencies that the box is too slow for.
    pub(super) fn caution(
        &mut self,
        half_rate_hz: f64,
        expected: Option<&ExpectedFrequencies>,
        lifted_share: f64,
    ) {
        let lifted = (lifted_share > MUCH_LIFTED).then(|| {
            format!(
                "the wheel was off the ground for {:.0} % of the time: what swings then is not the plow on its springs \
                 alone",
                100.0 * lifted_share
            )
        });
        let folded = expected.filter(|expected| expected.upper_hz.value > half_rate_hz).map(|expected| {
            let lower = if expected.lower_hz.value > half_rate_hz { "the plow" } else { "its front" };
            format!(
                "by weight, geometry and springs {lower} would swing faster than {half_rate_hz:.1} Hz, half of the rate \
                 that the box samples at; such swings show at a lower frequency that is not theirs"
            )
        });
        self.note_also(lifted.into_iter().chain(folded));
    }

    /// Says what a damping ratio is worth where the drawbar is too steep: on the virtual plow the front wheels were off
    /// the ground for 9 to 34 % of such a pass, and the interval held the ratio of its springs in two thirds of them.
    pub(super) fn caution_too_steep(&mut self) {
        let damped = self.bobbing.as_ref().is_some_and(|bobbing| bobbing.damping_ratio.is_some());
        self.note_also(damped.then(|| {
            "with the drawbar too steep the front wheels may leave the ground at the peaks of the pull, and the damping \
             ratio then comes out too high"
                .to_owned()
        }));
    }

    fn note_also(&mut self, more: impl IntoIterator<Item = String>) {
        let all: Vec<String> = self.note.take().into_iter().chain(more).collect();
        self.note = Some(all.join("; ")).filter(|note| !note.is_empty());
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

/// Peaks as they are told; `None` where there is no spectrum.
pub(super) fn told_peaks(
    found: Option<&SearchedLoad<'_>>,
    load_name: &str,
    plow: &Plow,
    speed_mps: Option<f64>,
) -> ToldPeaks {
    let mut told = ToldPeaks::default();
    let Some(found) = found else {
        told.note = Some("the working part is too short or too torn to search for bobbing".to_owned());
        return told;
    };
    let (spectrum, search) = (found.spectrum, found.search);
    let tail = plow.tail.wheel().map(|wheel| (TAIL_WHEEL, wheel.diameter));
    let front = plow.front.wheels().map(|wheels| (FRONT_WHEELS, wheels.diameter));
    let wheels: Vec<(&str, ingest::quantity::Length)> = tail.into_iter().chain(front).collect();
    let diameters_m: Vec<f64> = wheels.iter().map(|(_, diameter)| diameter.m()).collect();
    let seen_from_hz = SEEN_FROM * search.frequency_hz.first().copied().unwrap_or(0.0);
    let half_blind = seen_from_hz > USUAL_HZ.0;
    let mut candidates: Vec<Peak> = Vec::new();
    for peak in &search.peaks {
        let kind = speed_mps.map_or(PeakKind::Bobbing, |speed| classify(peak, &diameters_m, speed));
        match kind {
            PeakKind::WheelTurn(index) => {
                let wheel = wheels.get(index).map_or("a wheel", |(name, _)| name).to_owned();
                told.wheel_turns.push(WheelTurn { wheel, frequency_hz: peak.frequency_hz });
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
    told.peak = candidates.iter().max_by(|a, b| a.rms.value.total_cmp(&b.rms.value)).copied();
    let wheelbase_m = plow.tail.wheel().zip(plow.front.wheels()).map(|(tail, _)| tail.x.value.m().abs());
    let delay = match (wheelbase_m, speed_mps) {
        (None, _) => Delay::Unknown,
        (Some(wheelbase_m), Some(speed_mps)) => Delay::Known(wheelbase_m / speed_mps),
        (Some(wheelbase_m), None) => {
            let (slowest_mps, fastest_mps) = SPEEDS_MPS;
            Delay::Within(wheelbase_m / fastest_mps, wheelbase_m / slowest_mps)
        }
    };
    told.bobbing = told.peak.and_then(|peak| {
        let turns: Vec<f64> = told.wheel_turns.iter().map(|turn| turn.frequency_hz.value).collect();
        let near = |reach: f64| modes_at(&peak, reach, spectrum, search, &turns, delay);
        let mut modes = near(f64::INFINITY);
        // What excites a plow far from its modes may have a shape of its own, which says nothing of them.
        if modes.as_ref().is_none_or(Modes::is_poor) {
            modes = near(LOCAL_REACH).filter(|local| !local.is_poor()).or(modes);
        }
        if let Some(modes) = &mut modes {
            let seen = |mode: &Mode| candidates.iter().any(|peak| within(peak.band_hz, mode));
            // Strongest first already; a sort that keeps the order of equals.
            modes.modes.sort_by_key(|mode| !seen(mode));
        }
        figures(&peak, modes.as_ref(), found)
    });
    let mut note = match (&told.bobbing, speed_mps) {
        (None, _) => format!("no peak of the {load_name} stands out of its background at the 1 % level"),
        (Some(bobbing), _) if bobbing.poor_fit => {
            "no sum of up to three oscillators describes the spectrum: the top of the smoothed peak is given, with a \
             wide interval, and no damping"
                .to_owned()
        }
        (Some(_), None) => {
            "without a speed the turn of an out-of-round wheel cannot be told from bobbing".to_owned()
        }
        (Some(_), Some(_)) => String::new(),
    };
    if half_blind {
        let join = if note.is_empty() { "" } else { "; " };
        note.push_str(&format!(
            "{join}with so short a pass, or so many gaps, bobbing under {seen_from_hz:.1} Hz cannot be seen"
        ));
    }
    told.note = Some(note).filter(|note| !note.is_empty());
    told
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
) -> Option<Modes> {
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
    fit_modes(&bins, (peak.frequency_hz.value, peak.damping_ratio.map_or(line, |zeta| zeta.value)))
}

/// Densities of the bins searched.
fn searched<'a>(spectrum: &'a PowerSpectrum, search: &PeakSearch) -> Option<&'a [f64]> {
    let first = search.frequency_hz.first()? - 1e-9;
    let skip = spectrum.frequency_hz.iter().position(|f| *f >= first)?;
    spectrum.density.get(skip..skip + search.frequency_hz.len())
}

/// What is told; `None` where the spectrum holds nothing around the frequency.
fn figures(peak: &Peak, modes: Option<&Modes>, found: &SearchedLoad<'_>) -> Option<BobbingFigures> {
    let (spectrum, search) = (found.spectrum, found.search);
    let octave_rms = |hz: &Estimate| octave_rms(spectrum, (&found.stretches, found.rate_hz), hz);
    let damping = |mode: &Mode| mode.resolved.then_some(mode.damping_ratio);
    match modes.filter(|modes| !modes.is_poor()).and_then(|modes| modes.modes.split_first()) {
        Some((strongest, others)) => Some(BobbingFigures {
            frequency_hz: strongest.natural_hz,
            rms_n: octave_rms(&strongest.natural_hz)?,
            damping_ratio: damping(strongest),
            further_modes: others
                .iter()
                .filter_map(|mode| {
                    Some(FurtherMode {
                        frequency_hz: mode.natural_hz,
                        rms_n: octave_rms(&mode.natural_hz)?,
                        damping_ratio: damping(mode),
                    })
                })
                .collect(),
            poor_fit: false,
        }),
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
    fn what_makes_bobbing_another_thing_is_told() {
        let around = |hz: f64| Estimate { value: hz, low: 0.8 * hz, high: 1.2 * hz };
        let expected = ExpectedFrequencies { lower_hz: around(3.0), upper_hz: around(9.0) };
        let told = |half_rate_hz: f64, lifted_share: f64| {
            let mut peaks = ToldPeaks { note: Some("first".to_owned()), ..ToldPeaks::default() };
            peaks.caution(half_rate_hz, Some(&expected), lifted_share);
            peaks.note.unwrap()
        };
        assert_eq!(told(25.0, 0.0), "first");
        let lifted = told(25.0, 0.3);
        assert!(lifted.starts_with("first; the wheel was off the ground for 30 % of the time"), "{lifted}");
        let front = told(5.0, 0.0);
        assert!(front.contains("its front would swing faster than 5.0 Hz"), "{front}");
        let all = told(2.0, 0.3);
        assert!(all.contains("the plow would swing faster than 2.0 Hz") && all.contains("30 %"), "{all}");
    }
}
