//! Quantiles of the normal and Student's law, for intervals.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// Upper 2.5 % point of the standard normal law: half of a 95 % interval over its standard uncertainty (NIST
/// tables: 1.959 964).
pub const Z_975: f64 = 1.959_963_984_540_054;

/// Beyond this the library's search loses digits, and far beyond it does not end.
const SEARCHED_DOF_MAX: f64 = 1e3;

/// Quantile of Student's t with `dof` > 0 degrees of freedom, which need not be whole, at probability `p` in
/// (0, 1).
#[must_use]
pub fn t_quantile(p: f64, dof: f64) -> f64 {
    if dof > SEARCHED_DOF_MAX {
        // Abramowitz & Stegun 26.7.5, its first term: the next is under 3e-6 here.
        let z = Normal::standard().inverse_cdf(p);
        return z + (z.powi(3) + z) / (4.0 * dof);
    }
    // The law exists for every dof > 0; at dof that is not usable the widest answer is the honest one.
    StudentsT::new(0.0, 1.0, dof).map_or(f64::INFINITY, |law| law.inverse_cdf(p))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_degrees_of_freedom_end_with_a_quantile() {
        // t tables: 12.706 and 2.228 for 1 and 10 degrees of freedom.
        assert!((t_quantile(0.975, 1.0) - 12.706).abs() < 1e-3);
        assert!((t_quantile(0.975, 10.0) - 2.228).abs() < 1e-3);
        // By the integral of the law (Simpson, 2000 steps).
        assert!((t_quantile(0.975, 1000.0) - 1.962_339_081).abs() < 1e-6);
        assert!((t_quantile(0.975, 1001.0) - 1.962_336_705).abs() < 3e-6);
        for dof in [1e6, 1e7, 1e40, f64::INFINITY] {
            assert!((t_quantile(0.975, dof) - Z_975).abs() < 1e-5, "{dof}");
        }
        assert_eq!(t_quantile(0.975, 0.0), f64::INFINITY);
    }
}
