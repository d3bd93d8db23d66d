//! As much of complex numbers as the modes need.

use std::ops::{Add, Div, Mul, Sub};

/// re + i·im.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Complex {
    pub(super) re: f64,
    pub(super) im: f64,
}

impl Complex {
    pub(super) const fn new(re: f64, im: f64) -> Self {
        Self { re, im }
    }

    /// e^(i·angle).
    pub(super) fn turned(angle_rad: f64) -> Self {
        Self::new(angle_rad.cos(), angle_rad.sin())
    }

    pub(super) fn abs(self) -> f64 {
        self.re.hypot(self.im)
    }

    pub(super) fn conjugate(self) -> Self {
        Self::new(self.re, -self.im)
    }
}

impl Add for Complex {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.re + other.re, self.im + other.im)
    }
}

impl Add<f64> for Complex {
    type Output = Self;
    fn add(self, other: f64) -> Self {
        Self::new(self.re + other, self.im)
    }
}

impl Sub for Complex {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.re - other.re, self.im - other.im)
    }
}

impl Mul for Complex {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self::new(self.re * other.re - self.im * other.im, self.re * other.im + self.im * other.re)
    }
}

impl Mul<f64> for Complex {
    type Output = Self;
    fn mul(self, other: f64) -> Self {
        Self::new(self.re * other, self.im * other)
    }
}

impl Div for Complex {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let size = other.re * other.re + other.im * other.im;
        let top = self * other.conjugate();
        Self::new(top.re / size, top.im / size)
    }
}

/// Roots of s⁴ + c3 s³ + c2 s² + c1 s + c0 by the Durand–Kerner iteration.
pub(super) fn monic_quartic_roots([c0, c1, c2, c3]: [f64; 4]) -> [Complex; 4] {
    // The roots are tens of 1/s large; the start circle is of the size of their geometric mean.
    let size = c0.abs().powf(0.25).max(1.0);
    let start = |angle: f64| Complex::turned(angle) * size;
    let mut roots = [start(0.4), start(2.0), start(3.5), start(5.1)];
    for _ in 0..500 {
        for i in 0..4 {
            let s = roots[i];
            let mut value = Complex::new(1.0, 0.0);
            for c in [c3, c2, c1, c0] {
                value = value * s + c;
            }
            for other in (0..4).filter(|k| *k != i).map(|k| roots[k]) {
                value = value / (s - other);
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
            let wanted = Complex::new(wanted.0, wanted.1);
            assert!(roots.iter().any(|root| (*root - wanted).abs() < 1e-9), "{wanted:?} in {roots:?}");
        }
    }
}
