//! Roots of the characteristic polynomial of the modes.

use realfft::num_complex::Complex64;

/// Roots of s⁴ + c3 s³ + c2 s² + c1 s + c0 by the Durand–Kerner iteration.
pub(super) fn monic_quartic_roots([c0, c1, c2, c3]: [f64; 4]) -> [Complex64; 4] {
    // The roots are tens of 1/s large; the start circle is of the size of their geometric mean.
    let size = c0.abs().powf(0.25).max(1.0);
    let start = |angle: f64| Complex64::cis(angle) * size;
    let mut roots = [start(0.4), start(2.0), start(3.5), start(5.1)];
    for _ in 0..500 {
        for i in 0..4 {
            let s = roots[i];
            let mut value = Complex64::new(1.0, 0.0);
            for c in [c3, c2, c1, c0] {
                value = value * s + c;
            }
            for other in (0..4).filter(|k| *k != i).map(|k| roots[k]) {
                value /= s - other;
            }
            roots[i] = s - value;
        }
    }
    roots
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_of_a_product_of_known_factors() {
        // (s² + 2s + 101)(s² + 20s + 500): roots −1±10i and −10±20i.
        let roots = monic_quartic_roots([50_500.0, 1_000.0 + 2_020.0, 500.0 + 40.0 + 101.0, 22.0]);
        for wanted in [(-1.0, 10.0), (-1.0, -10.0), (-10.0, 20.0), (-10.0, -20.0)] {
            let wanted = Complex64::new(wanted.0, wanted.1);
            assert!(roots.iter().any(|root| (*root - wanted).norm() < 1e-9), "{wanted:?} in {roots:?}");
        }
    }
}
