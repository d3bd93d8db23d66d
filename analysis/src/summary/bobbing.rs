//! From the peaks of the tail load's spectrum to what is said of bobbing and of wheels that turn.

use super::figures::{BobbingFigures, WheelTurn};
use crate::spectra::bobbing::{Peak, PeakKind, PeakSearch, classify};
use crate::stats::Estimate;
use ingest::plow::Plow;

/// Half of the 95 % interval, over the frequency, of how far the peak of the tail load lies from the plow's own
/// frequency. Land passes under two wheels one after the other, so it excites some frequencies more than
/// others and moves the peak. By the virtual plow at 1.2 to 2.4 m/s over 24 strips of 4 cases (most within 0.04, a
/// tail wheel under a steep drawbar up to 0.10); by choice for a real one.
const FREQUENCY_HALF_WIDTH_SHARE: f64 = 0.06;
/// Half of the 95 % interval of the logarithm of the damping ratio, for the same cause: the peak's width came
/// out at a third to three times what damping alone gives.
const LN_DAMPING_HALF_WIDTH: f64 = 1.1;
/// Where bobbing is usual (common practice, no source), Hz. A search that cannot see all of it says so, and takes
/// nothing above it for bobbing: with the real peak out of sight, a faint one at 11 Hz was named.
const USUAL_HZ: (f64, f64) = (1.0, 4.0);
/// A peak is seen from this many times the lowest frequency searched: its background must be known on both
/// sides.
const SEEN_FROM: f64 = 2.0;

/// Names of the wheels in [`WheelTurn`].
pub(super) const TAIL_WHEEL: &str = "tail wheel";
pub(super) const FRONT_WHEELS: &str = "front wheels";

/// What is told of peaks.
#[derive(Default)]
pub(super) struct ToldPeaks {
    pub bobbing: Option<BobbingFigures>,
    pub note: Option<String>,
    pub wheel_turns: Vec<WheelTurn>,
}

/// Peaks as they are told; the search is `None` where there is no spectrum.
pub(super) fn told_peaks(
    search: Option<&PeakSearch>,
    load_name: &str,
    plow: &Plow,
    speed_mps: Option<f64>,
) -> ToldPeaks {
    let mut told = ToldPeaks::default();
    let Some(search) = search else {
        told.note = Some("the working part is too short or too torn to search for bobbing".to_owned());
        return told;
    };
    let tail = plow.tail_wheel.as_ref().map(|wheel| (TAIL_WHEEL, wheel.diameter));
    let front = plow.front_wheels.as_ref().map(|wheels| (FRONT_WHEELS, wheels.diameter));
    let wheels: Vec<(&str, ingest::quantity::Length)> = tail.into_iter().chain(front).collect();
    let diameters_m: Vec<f64> = wheels.iter().map(|(_, diameter)| diameter.m()).collect();
    let seen_from_hz = SEEN_FROM * search.frequency_hz.first().copied().unwrap_or(0.0);
    let half_blind = seen_from_hz > USUAL_HZ.0;
    for peak in &search.peaks {
        let kind = speed_mps.map_or(PeakKind::Bobbing, |speed| classify(peak, &diameters_m, speed));
        match kind {
            PeakKind::WheelTurn(index) => {
                let wheel = wheels.get(index).map_or("a wheel", |(name, _)| name).to_owned();
                told.wheel_turns.push(WheelTurn { wheel, frequency_hz: peak.frequency_hz });
            }
            PeakKind::Bobbing if half_blind && peak.frequency_hz.value > USUAL_HZ.1 => {}
            PeakKind::Bobbing if told.bobbing.is_none() => told.bobbing = Some(figures(peak)),
            PeakKind::Bobbing => {}
        }
    }
    let mut note = match (&told.bobbing, speed_mps) {
        (None, _) => format!("no peak of the {load_name} stands out of its background at the 1 % level"),
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

fn figures(peak: &Peak) -> BobbingFigures {
    let frequency_hz = peak.frequency_hz;
    let allowance_hz = FREQUENCY_HALF_WIDTH_SHARE * frequency_hz.value;
    let below_hz = (frequency_hz.value - frequency_hz.low).hypot(allowance_hz);
    let above_hz = (frequency_hz.high - frequency_hz.value).hypot(allowance_hz);
    let wider = |zeta: Estimate| {
        let below = (zeta.value / zeta.low).ln().hypot(LN_DAMPING_HALF_WIDTH);
        let above = (zeta.high / zeta.value).ln().hypot(LN_DAMPING_HALF_WIDTH);
        Estimate::new(zeta.value, zeta.value * (-below).exp(), (zeta.value * above.exp()).min(1.0))
    };
    BobbingFigures {
        frequency_hz: Estimate {
            value: frequency_hz.value,
            low: frequency_hz.value - below_hz,
            high: frequency_hz.value + above_hz,
        },
        rms_n: peak.rms,
        damping_ratio: peak.damping_ratio.and_then(wider),
    }
}
