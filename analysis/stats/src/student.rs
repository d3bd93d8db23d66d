//! Quantiles of the normal, Student and χ² laws that intervals need, for degrees of freedom that need not be
//! whole.

use statrs::distribution::{ChiSquared, ContinuousCDF, StudentsT};

pub use ingest::student::{Z_975, t_quantile};

/// Two-sided p value of a t statistic: P(|T| ≥ |t|).
pub fn t_two_sided_p(t: f64, dof: f64) -> f64 {
    StudentsT::new(0.0, 1.0, dof).map_or(1.0, |law| 2.0 * law.sf(t.abs()))
}

/// Quantile of χ² with `dof` degrees of freedom at probability `p` in (0, 1); `None` unless `dof` > 0.
pub fn chi_square_quantile(p: f64, dof: f64) -> Option<f64> {
    Some(ChiSquared::new(dof).ok()?.inverse_cdf(p))
}

/// Probability that χ² with `dof` degrees of freedom is at or above `value`; without any all of it lies at 0.
pub fn chi_square_sf(value: f64, dof: f64) -> f64 {
    ChiSquared::new(dof).map_or(f64::from(u8::from(value <= 0.0)), |law| law.sf(value))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degrees_of_freedom_that_make_no_sense_widen_instead_of_failing() {
        assert_eq!(t_quantile(0.975, 0.0), f64::INFINITY);
        assert_eq!(t_two_sided_p(5.0, -1.0), 1.0);
        assert_eq!(chi_square_quantile(0.5, 0.0), None);
        assert_eq!((chi_square_sf(0.0, 0.0), chi_square_sf(0.1, 0.0)), (1.0, 0.0));
    }
}
