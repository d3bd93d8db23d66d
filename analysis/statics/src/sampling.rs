//! Draws of a run's inputs, each solved backwards, and which of them are kept.

use super::distribution::Distribution;
use super::draw::{Draw, Impossible, solve_backwards};
use super::identify::Contradiction;
use super::inputs::{FromLinks, Inputs, Measured};
use super::plow_model::PlowModel;
use super::samples::Samples;
use super::soil::SoilHeight;
use rand::{Rng, RngExt};

/// Tries for each draw wanted.
const TRIES_PER_DRAW: usize = 20;

/// What was counted on the way.
#[derive(Default)]
pub(super) struct Tally {
    impossible: [usize; 4],
    pub set_aside: usize,
    set_aside_high: usize,
}

impl Tally {
    const KINDS: [Impossible; 4] = [
        Impossible::TailLoadBelowZero,
        Impossible::FrontLoadBelowZero,
        Impossible::PullTooSmall,
        Impossible::Geometry,
    ];

    fn reject(&mut self, why: Impossible) {
        for (count, kind) in self.impossible.iter_mut().zip(Self::KINDS) {
            *count += usize::from(kind == why);
        }
    }

    pub fn rejected(&self) -> usize {
        self.impossible.iter().sum()
    }

    pub fn main_cause(&self) -> Contradiction {
        let most = self.impossible.iter().copied().zip(Self::KINDS).max();
        match most {
            Some((count, kind)) if count >= self.set_aside => Contradiction::Impossible(kind),
            _ => Contradiction::SoilHeight { too_high: 2 * self.set_aside_high > self.set_aside },
        }
    }
}

/// What is drawn from, and what it has to agree with.
pub(super) struct Sampled {
    pub plow_model: PlowModel,
    pub distributions: Inputs<Distribution>,
    pub measured: Measured,
    pub from_links: Option<FromLinks>,
    /// Added to every draw of the inputs.
    pub shift: Option<Inputs<f64>>,
}

impl Sampled {
    fn draw(&self, rng: &mut impl Rng) -> Result<Draw, Impossible> {
        let mut inputs = self.distributions.draw(rng);
        if let Some(shift) = &self.shift {
            inputs = self.distributions.inclined(inputs.plus(shift));
        }
        if let Some(from) = self.from_links {
            self.plow_model.load_from_links(&mut inputs, from).map_err(|_| Impossible::Geometry)?;
        }
        solve_backwards(&self.plow_model, &inputs, self.measured)
    }
}

/// Draws until as many are kept as are wanted, or too many were tried; with `likely` a draw is kept as often as the
/// height is likely at which it has the soil act.
pub(super) fn gather(
    from: &Sampled,
    likely: Option<SoilHeight>,
    wanted: usize,
    rng: &mut impl Rng,
) -> (Samples<Draw>, Tally) {
    let mut draws = Vec::with_capacity(wanted);
    let (mut tally, mut tried) = (Tally::default(), 0);
    while draws.len() < wanted && tried < wanted * TRIES_PER_DRAW {
        tried += 1;
        let draw = match from.draw(rng) {
            Ok(draw) => draw,
            Err(why) => {
                tally.reject(why);
                continue;
            }
        };
        if let Some(height) = likely {
            let z_m = draw.side.soil_at.z_m;
            let likeliness = match from.measured {
                // Drawn from what is likely: only the bounds are left to keep.
                Measured::LineOfPull => f64::from(u8::from(height.likeliness(z_m) > 0.0)),
                _ => height.likeliness(z_m),
            };
            if rng.random::<f64>() >= likeliness {
                tally.set_aside += 1;
                tally.set_aside_high += usize::from(z_m > height.mean_m);
                continue;
            }
        }
        draws.push(draw);
    }
    (Samples::new(draws, tried), tally)
}
