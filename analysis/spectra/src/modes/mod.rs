//! How many modes a spectrum shows, and what they are: one, two or three damped oscillators on a smooth
//! background, fitted together.
//!
//! Whittle's likelihood (Whittle 1953, Arkiv för Matematik 2, 423–434) is taken over the bins of the Welch
//! spectrum, each a Γ law whose shape is half of its degrees of freedom over the correlation of neighbouring bins.
//! A finer periodogram would use somewhat more of the record, but an hour at 1 kHz has millions of its bins.
//!
//! What excites the modes need not be even: it is a smooth function of frequency, the same for all of them, and where
//! the time from wheel to wheel is known, or found ([`Delay`]), it has what land makes of it that passes under one wheel
//! and then the other. Both are fitted with the rest, within a stated scatter, so that intervals hold what they may do.

mod delay;
mod fit;
mod model;
#[cfg(test)]
mod study;

pub use fit::{DRAW_SEED, FALSE_FURTHER_MODE};
pub use model::{Bins, Delay};

use super::background::BIN_CORRELATION;
use super::octave::covered_hz;
use super::resonance::line_damping;
use fit::{Fitted, needed_gain, start, start_mode, starts};
use model::{Frame, OF_A_MODE};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use serde::Serialize;
use stats::Estimate;
use stats::student::chi_square_sf;
use std::ops::RangeInclusive;

/// A model is called poor when so bad a fit, or a worse one, has this chance with the model true.
pub const POOR_FIT: f64 = 0.01;
/// Most modes that are fitted: heave and pitch of a plane body, and one more of a frame or a tractor.
pub const MOST_MODES: usize = 3;
/// Modes of another count speak of the strongest's intervals if the power in their band is at least this share of their
/// strongest's.
const ABOUT_AS_STRONG: f64 = 0.25;
/// What swings beside a mode at its frequency may be excited by the same land, and so move its top: the standard
/// deviation of the sine of the phase between them, at half coherence (a phase of which nothing is known has √½, by √½).
const INTERFERENCE_SD: f64 = 0.5;
/// Share of draws beyond either end of an interval.
const TAIL: f64 = 0.025;
/// Seed of the draws of that phase.
pub const PHASE_SEED: u64 = 0xFA5E;
/// A count of modes less likely than this beside the one that was chosen is not asked.
const NEGLIGIBLE: f64 = 1e-3;
/// Neighbouring bins taken together in the test of fit.
const GROUP: usize = 3;

/// One mode: a damped oscillator.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Mode {
    /// Undamped natural frequency f₀, Hz (not the top of the peak, which what excites it moves).
    pub natural_hz: Estimate,
    /// Damping ratio ζ of the mode (share of critical damping).
    pub damping_ratio: Estimate,
    /// Power of all of the fitted spectrum within the mode's half-power band f₀(1 ± ζ), unit² of the channel: the
    /// strongest mode is the one in whose band the channel swings most.
    pub band_power: f64,
    /// Whether the mode is wider than the window makes a line; if not, its damping is not known from below.
    pub resolved: bool,
}

/// What was fitted.
#[derive(Clone, Debug, PartialEq)]
pub struct Modes {
    /// The strongest first ([`Mode::band_power`]).
    pub modes: Vec<Mode>,
    /// Chance of a fit as bad as this or worse, if the model is true.
    pub fit_probability: f64,
    /// The fitted density, unit²/Hz, in each bin.
    pub fitted: Vec<f64>,
    /// The fitted background, unit²/Hz, in each bin.
    pub background: Vec<f64>,
    /// The time from wheel to wheel that the fit has the dips of, s.
    pub delay_s: Option<f64>,
}

impl Modes {
    /// Whether the model does not describe the spectrum.
    pub fn is_poor(&self) -> bool {
        self.fit_probability < POOR_FIT
    }
}

/// Fits modes, starting with one at `first` (natural frequency in Hz and damping ratio).
///
/// A further mode is taken when twice the logarithm of the likelihood's gain is above the χ² quantile with the
/// three parameters it adds (power, frequency, damping) at [`FALSE_FURTHER_MODE`], shared among the places it was
/// looked for in (Šidák), one for each of the places in which it was started. Where a further mode was not taken, the fit
/// with it still counts in the intervals of the strongest, by its Akaike weight exp(gain − 3) (model averaging: Burnham &
/// Anderson 2002, Model Selection and Multimodel Inference, ch. 4; from memory): no likelihood tells a broad peak from
/// two. So does the strongest taken for two of half its width.
///
/// `None` where the fit does not settle.
pub fn fit_modes(bins: &Bins<'_>, first: (f64, f64)) -> Option<Modes> {
    let shape = bins.dof / 2.0 / BIN_CORRELATION;
    let delay_s = bins.delay_s(shape, first);
    let frame = Frame::new(bins, shape, delay_s)?;
    let mut chosen = frame.fit(&start(&frame, bins, first)?)?;
    let needed = needed_gain(OF_A_MODE, starts(bins).len() as f64)?;
    let mut rival = None;
    for _ in 1..MOST_MODES {
        let Some(more) = with_one_more(&frame, bins, &chosen) else { break };
        let gain = 2.0 * (chosen.objective - more.objective);
        if gain < needed {
            rival = Some(more);
            break;
        }
        chosen = more;
    }
    let whole = frame.whole(&chosen.p);
    let fit = GoodnessOfFit::of(&frame, &whole, bins.dof, chosen.p.len());
    let mut drawn = drawn_modes(&frame, &chosen, fit.stretch())?;
    let peak_hz = drawn.first()?.peak_hz()?;
    for other in rival.into_iter().chain(split_strongest(&frame, &chosen)) {
        let weight = (chosen.objective - other.objective - OF_A_MODE as f64).exp().min(1.0);
        if weight > NEGLIGIBLE
            && let Some(other) = drawn_modes(&frame, &other, fit.stretch())
        {
            widen(&mut drawn, &other, weight, &peak_hz);
        }
    }
    let modes = drawn.iter().map(|mode| mode.reported(&frame)).collect::<Option<_>>()?;
    let (fit_probability, background) = (fit.probability(), frame.background_at(&chosen.p));
    Some(Modes { modes, fit_probability, fitted: whole, background, delay_s })
}

/// The best fit with one mode more, of some that start all over the band and beside the modes there are.
fn with_one_more(frame: &Frame<'_>, bins: &Bins<'_>, known: &Fitted) -> Option<Fitted> {
    let mut places: Vec<f64> = starts(bins);
    for mode in known.p.get(frame.before_modes()..)?.chunks(OF_A_MODE) {
        let (natural_hz, damping) = (mode.get(1)?.exp(), mode.get(2)?.exp());
        let half_hz = (damping * natural_hz).max(2.0 * bins.bin_hz);
        places.extend([natural_hz - half_hz, natural_hz + half_hz]);
    }
    // The excitation may have bent to make up for a mode that is missed: it is tried even as well. Where the model says
    // too little, a mode is most likely missed; the best places of either are followed up.
    let mut even = known.p.clone();
    even.splice(frame.knots().len()..frame.before_modes(), frame.even_excitation());
    let mut fits = Vec::new();
    for base in [&known.p, &even] {
        let whole = frame.whole(base);
        let mut ranked: Vec<(f64, Vec<f64>)> = Vec::new();
        for natural_hz in &places {
            for damping in [0.05, 0.15] {
                let mut p = base.clone();
                p.extend(start_mode(frame, bins, base, (*natural_hz, damping)));
                let added = frame.mode_at(&p, base.len());
                let sum: Vec<f64> = whole.iter().zip(added).map(|(a, b)| a + b).collect();
                ranked.push((frame.objective(&p, &sum), p));
            }
        }
        ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
        fits.extend(ranked.iter().take(2).filter_map(|(_, p)| frame.fit(p)));
    }
    fits.into_iter().min_by(|a, b| a.objective.total_cmp(&b.objective))
}

/// A fit in which the strongest mode is taken for two of half its power and half its width, side by side.
fn split_strongest(frame: &Frame<'_>, chosen: &Fitted) -> Option<Fitted> {
    let first = frame.before_modes();
    let of_power =
        |mode: &usize| chosen.p.get(first + mode * OF_A_MODE).copied().unwrap_or(f64::NEG_INFINITY);
    let count = (chosen.p.len() - first) / OF_A_MODE;
    let strongest = (0..count).max_by(|a, b| of_power(a).total_cmp(&of_power(b)))?;
    let at = first + strongest * OF_A_MODE;
    let damping = chosen.p.get(at + 2)?.exp();
    let mut start = chosen.p.clone();
    let mut twin = chosen.p.get(at..at + OF_A_MODE)?.to_vec();
    for (mode, side) in [(start.get_mut(at..at + OF_A_MODE)?, -1.0), (twin.as_mut_slice(), 1.0)] {
        if let [power, natural, damping_ln] = mode {
            *power -= std::f64::consts::LN_2;
            *natural += side * 0.7 * damping;
            *damping_ln -= std::f64::consts::LN_2;
        }
    }
    start.extend(twin);
    frame.fit(&start)
}

/// Root of what swings beside a mode over what it swings with itself, in density at its natural frequency; at most 1.
fn beside_share(frame: &Frame<'_>, whole: &[f64], p: &[f64], first: usize) -> Option<f64> {
    let natural_hz = p.get(first + 1)?.exp();
    let bin = frame.frequency_hz.partition_point(|f| *f < natural_hz).min(whole.len().checked_sub(1)?);
    let (all, own) = (whole.get(bin)?, *frame.mode_at(p, first).get(bin)?);
    Some((((all - own) / own).max(0.0).sqrt()).min(1.0))
}

/// Power of the whole model within f₀(1 ± ζ), the bins at its ends by their share.
fn band_power(frame: &Frame<'_>, whole: &[f64], natural_hz: f64, damping: f64) -> f64 {
    let band_hz = (natural_hz * (1.0 - damping), natural_hz * (1.0 + damping));
    frame
        .frequency_hz
        .iter()
        .zip(whole)
        .map(|(f, density)| density * covered_hz(*f, frame.bin_hz, band_hz))
        .sum()
}

/// What a mode may be, by one draw of the parameters.
#[derive(Clone, Copy)]
struct Draw {
    /// Logarithm of the natural frequency in Hz.
    natural_ln: f64,
    /// Logarithm of the damping ratio.
    damping_ln: f64,
    weight: f64,
}

/// One mode, and what else it may be.
struct Drawn {
    natural_hz: f64,
    damping: f64,
    band_power: f64,
    draws: Vec<Draw>,
}

impl Drawn {
    fn natural_estimate(&self) -> Option<Estimate> {
        estimate(self.natural_hz, self.draws.iter().map(|d| (d.natural_ln, d.weight)))
    }

    /// Within which another mode belongs to this one's peak, Hz: its interval, and twice its half-width on either side.
    fn peak_hz(&self) -> Option<RangeInclusive<f64>> {
        let natural_hz = self.natural_estimate()?;
        let reach_hz = 2.0 * self.damping * self.natural_hz;
        Some(natural_hz.low - reach_hz..=natural_hz.high + reach_hz)
    }

    fn reported(&self, frame: &Frame<'_>) -> Option<Mode> {
        let natural_hz = self.natural_estimate()?;
        let damping_ratio = estimate(self.damping, self.draws.iter().map(|d| (d.damping_ln, d.weight)))?;
        let resolved = damping_ratio.low > 1.02 * line_damping(frame.bin_hz, natural_hz.value);
        Some(Mode { natural_hz, damping_ratio, band_power: self.band_power, resolved })
    }
}

/// The modes with what their frequency and damping may be, the strongest first; `stretch` as in [`GoodnessOfFit::stretch`].
///
/// With a/(δ + iζ) for a mode at the relative distance δ from its natural frequency, and what swings beside it ρ times
/// as high as its top: coherent parts that are a quarter of a turn off move the top by ζρ (first order in ρ).
fn drawn_modes(frame: &Frame<'_>, fitted: &Fitted, stretch: f64) -> Option<Vec<Drawn>> {
    let draws = frame.draws(fitted, stretch);
    let whole = frame.whole(&fitted.p);
    let mut rng = ChaCha8Rng::seed_from_u64(PHASE_SEED);
    let phases: Vec<f64> =
        draws.iter().map(|_| INTERFERENCE_SD * rng.sample::<f64, _>(StandardNormal)).collect();
    let mut modes = Vec::new();
    for first in (frame.before_modes()..fitted.p.len()).step_by(OF_A_MODE) {
        let (natural_hz, damping) = (fitted.p.get(first + 1)?.exp(), fitted.p.get(first + 2)?.exp());
        let beside = beside_share(frame, &whole, &fitted.p, first)?;
        let moved = |(p, across): (&Vec<f64>, &f64)| {
            let damping_ln = *p.get(first + 2)?;
            let natural_ln = p.get(first + 1)? + beside * across * damping_ln.exp();
            Some(Draw { natural_ln, damping_ln, weight: 1.0 })
        };
        let draws = draws.iter().zip(&phases).filter_map(moved).collect();
        let band_power = band_power(frame, &whole, natural_hz, damping);
        modes.push(Drawn { natural_hz, damping, band_power, draws });
    }
    modes.sort_by(|a, b| b.band_power.total_cmp(&a.band_power));
    Some(modes)
}

/// A value with the ends beyond which [`TAIL`] of the weight of its draws (logarithms, each with its weight) lies.
fn estimate(value: f64, drawn: impl Iterator<Item = (f64, f64)>) -> Option<Estimate> {
    let mut drawn: Vec<(f64, f64)> = drawn.collect();
    drawn.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all: f64 = drawn.iter().map(|(_, weight)| weight).sum();
    let beyond = |share: f64| {
        let mut so_far = 0.0;
        drawn.iter().find(|(_, weight)| {
            so_far += weight;
            so_far >= share * all
        })
    };
    let (low, high) = (beyond(TAIL)?.0.exp(), beyond(1.0 - TAIL)?.0.exp());
    Estimate::new(value, low.min(value), high.max(value))
}

/// The draws of the strong modes of another count, `weight` times as likely, are added to those of the strongest mode
/// where they lie within its peak `peak_hz`: a peak that may be two modes does not tell which is which.
fn widen(modes: &mut [Drawn], other: &[Drawn], weight: f64, peak_hz: &RangeInclusive<f64>) {
    let Some((mode, strongest)) = modes.first_mut().zip(other.first()) else { return };
    let within = |draw: &&Draw| peak_hz.contains(&draw.natural_ln.exp());
    let strong = other.iter().filter(|mode| mode.band_power >= ABOUT_AS_STRONG * strongest.band_power);
    let draws: Vec<Draw> = strong.flat_map(|mode| mode.draws.iter().filter(within)).copied().collect();
    mode.draws.extend(draws.into_iter().map(|draw| Draw { weight, ..draw }));
}

/// How well the model describes the spectrum: the deviance of Γ laws over groups of bins, with Bartlett's correction
/// for the mean of each (1 + 1/(6a) for the shape a), and its degrees of freedom.
struct GoodnessOfFit {
    deviance: f64,
    free: f64,
}

impl GoodnessOfFit {
    fn of(frame: &Frame<'_>, whole: &[f64], dof: f64, parameters: usize) -> Self {
        let rows = frame.density.iter().zip(whole).zip(frame.used).filter(|(_, used)| **used);
        let ratios: Vec<f64> = rows.map(|((s, m), _)| s / m).collect();
        let (mut deviance, mut groups) = (0.0, 0.0);
        for group in ratios.chunks_exact(GROUP) {
            let mean = group.iter().sum::<f64>() / GROUP as f64;
            let shape = group_shape(dof);
            deviance += 2.0 * shape * (mean - 1.0 - mean.ln()) / (1.0 + 1.0 / (6.0 * shape));
            groups += 1.0;
        }
        Self { deviance, free: groups - parameters as f64 }
    }

    /// Chance of so bad a fit, or a worse one, if the model is true.
    fn probability(&self) -> f64 {
        if self.free < 1.0 {
            return 1.0;
        }
        chi_square_sf(self.deviance, self.free)
    }

    /// Root of the dispersion, by which standard errors grow where the model misses more than chance does
    /// (quasi-likelihood: Wedderburn 1974, Biometrika 61, 439–447); never under 1.
    fn stretch(&self) -> f64 {
        if self.free < 1.0 { 1.0 } else { (self.deviance / self.free).sqrt().max(1.0) }
    }
}

/// Γ shape of the mean of a group of bins: neighbours correlate by 4/9 and 1/36 in power (Hann window).
fn group_shape(dof: f64) -> f64 {
    let n = GROUP as f64;
    dof / 2.0 * n / (1.0 + 2.0 * ((n - 1.0) / n * 4.0 / 9.0 + (n - 2.0) / n / 36.0))
}
