//! What is known of an input, as a distribution to draw from (JCGM 101:2008, 6.4).

use rand::Rng;
use rand_distr::{Distribution, StandardNormal, StandardUniform};

/// Degrees of freedom of [`Spread::Wide`]: heavy tails, yet with a standard deviation.
const WIDE_DOF: u32 = 4;

/// Distribution of one input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spread {
    /// Normal.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation.
        sd: f64,
    },
    /// Rectangular: bounds known, nothing else.
    Uniform {
        /// Lower bound.
        low: f64,
        /// Upper bound.
        high: f64,
    },
    /// Scaled and shifted t with 4 degrees of freedom: a belief that may be badly off.
    Wide {
        /// Centre.
        centre: f64,
        /// Scale; the standard deviation is √2 times it.
        scale: f64,
    },
}

impl Spread {
    /// Middle of the distribution.
    #[must_use]
    pub fn centre(self) -> f64 {
        match self {
            Self::Normal { mean, .. } => mean,
            Self::Uniform { low, high } => (low + high) / 2.0,
            Self::Wide { centre, .. } => centre,
        }
    }

    /// Standard uncertainty: the divisor √3 of a rectangular half-width is GUM 4.3.7; variance dof/(dof − 2)
    /// of Student's t.
    #[must_use]
    pub fn standard_uncertainty(self) -> f64 {
        match self {
            Self::Normal { sd, .. } => sd,
            Self::Uniform { low, high } => (high - low) / 12.0f64.sqrt(),
            Self::Wide { scale, .. } => scale * (f64::from(WIDE_DOF) / f64::from(WIDE_DOF - 2)).sqrt(),
        }
    }

    /// One draw.
    pub fn draw(self, rng: &mut impl Rng) -> f64 {
        match self {
            Self::Normal { mean, sd } => mean + sd * normal(rng),
            Self::Uniform { low, high } => {
                let share: f64 = StandardUniform.sample(rng);
                low + (high - low) * share
            }
            // Student's t by its definition, a normal over the root of a mean of squares of normals: the
            // library's t is made anew for each draw and was most of the time of a whole identification.
            Self::Wide { centre, scale } => {
                let squares: f64 = (0..WIDE_DOF).map(|_| normal(rng).powi(2)).sum();
                centre + scale * normal(rng) / (squares / f64::from(WIDE_DOF)).sqrt()
            }
        }
    }
}

fn normal(rng: &mut impl Rng) -> f64 {
    StandardNormal.sample(rng)
}
