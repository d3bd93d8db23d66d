//! What is known of an input, as a distribution to draw from (JCGM 101:2008, 6.4).

use ingest::quantity::{Measured, Quantity};
use rand::Rng;
use rand_distr::{Distribution as _, StandardNormal, StandardUniform};

/// Degrees of freedom of [`Distribution::Wide`]: heavy tails, yet with a standard deviation.
pub const WIDE_DOF: u32 = 4;

/// Distribution of one input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Distribution {
    /// One value, and nothing to draw.
    Exact(f64),
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

impl Distribution {
    /// Of what was measured, in its SI unit; where no ± was given, `half_width_si` stands for it.
    pub(crate) fn measured<Q: Quantity>(measured: &Measured<Q>, half_width_si: f64) -> Self {
        let sd = measured.standard_uncertainty(Q::from_si(half_width_si));
        Self::Normal { mean: measured.si(), sd }
    }

    /// Middle of the distribution.
    pub fn centre(self) -> f64 {
        match self {
            Self::Exact(value) => value,
            Self::Normal { mean, .. } => mean,
            Self::Uniform { low, high } => (low + high) / 2.0,
            Self::Wide { centre, .. } => centre,
        }
    }

    /// Standard uncertainty: the divisor √3 of a rectangular half-width is GUM 4.3.7; variance dof/(dof − 2)
    /// of Student's t.
    pub fn standard_uncertainty(self) -> f64 {
        match self {
            Self::Exact(_) => 0.0,
            Self::Normal { sd, .. } => sd,
            Self::Uniform { low, high } => (high - low) / 12.0f64.sqrt(),
            Self::Wide { scale, .. } => scale * (f64::from(WIDE_DOF) / f64::from(WIDE_DOF - 2)).sqrt(),
        }
    }

    /// Where a standard normal deviate falls: as many of 100 draws lie below it as of a standard normal below
    /// `u`. So any input is a function of independent standard normals.
    ///
    /// The quantile of Student's t with 4 degrees of freedom has a closed form: with p the smaller tail and
    /// a = 4p(1 − p), t = 2√(cos(arccos(√a)/3)/√a − 1) (Shaw 2006, Journal of Computational Finance 9, 37-73;
    /// from memory, and held against a numerical quantile by a test).
    pub fn at(self, u: f64) -> f64 {
        match self {
            Self::Exact(value) => value,
            Self::Normal { mean, sd } => mean + sd * u,
            Self::Uniform { low, high } => low + (high - low) * normal_below(u),
            Self::Wide { centre, scale } => {
                let tail = normal_below(-u.abs()).max(f64::MIN_POSITIVE);
                let a = (4.0 * tail * (1.0 - tail)).sqrt().min(1.0);
                let t = 2.0 * ((a.acos() / 3.0).cos() / a - 1.0).max(0.0).sqrt();
                centre + scale * t.copysign(u)
            }
        }
    }

    /// One draw.
    pub fn draw(self, rng: &mut impl Rng) -> f64 {
        match self {
            Self::Exact(value) => value,
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

/// Share of a standard normal below `u`.
fn normal_below(u: f64) -> f64 {
    0.5 * statrs::function::erf::erfc(-u / std::f64::consts::SQRT_2)
}

fn normal(rng: &mut impl Rng) -> f64 {
    StandardNormal.sample(rng)
}

#[cfg(test)]
mod tests {
    use super::*;
    use stats::student::t_quantile;

    /// Against the numerical quantile of statrs: the shares of a normal below −2.5 to 2.5.
    #[test]
    fn a_deviate_falls_where_the_quantile_is() {
        let wide = Distribution::Wide { centre: 1.0, scale: 0.5 };
        let flat = Distribution::Uniform { low: -1.0, high: 3.0 };
        for u in [-2.5, -1.0, -0.1, 0.0, 0.7, 2.5] {
            let share = normal_below(u);
            let t = if share == 0.5 { 0.0 } else { t_quantile(share, f64::from(WIDE_DOF)) };
            assert!((wide.at(u) - (1.0 + 0.5 * t)).abs() < 1e-6, "{u}: {} {t}", wide.at(u));
            assert!((flat.at(u) - (4.0 * share - 1.0)).abs() < 1e-12);
        }
        assert!((normal_below(1.959_963_984_540_054) - 0.975).abs() < 1e-9);
        assert!(wide.at(40.0).is_finite() && wide.at(-40.0).is_finite());
    }
}
