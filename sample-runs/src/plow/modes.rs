//! The two modes of a plow at work, and what the field makes of them in the tail load: small motions about the
//! rest.
//!
//! With q = (heave, turn) and the forces of [`super::Forces`], small motions obey
//!
//! ```text
//! M q″ + C q′ + K q = f(t),      tail load = l·q + l′·q′ + what the ground does to it directly
//! ```
//!
//! M is diagonal (mass, moment of inertia). K, C, l, l′ and the part that land, hardness and the tractor's pin
//! have in f are central differences of the very forces that the simulation uses, about its rest. The modes are
//! the roots s of Δ(s) = det(M s² + C s + K). A root's part of the motion is adj(Z(s))/Δ′(s)/(iω − s), with
//! Z(s) = M s² + C s + K: the partial fractions of Z⁻¹.
//!
//! Land and soil are stationary along the strip, so in the time of a steady speed v their spectra are those
//! along the strip over v, and the spectrum of the tail load is the sum of theirs, each times the square of its
//! response (as everywhere in linear systems under random loads). One-sided, for a spread s and a length ℓ at n
//! cycles a metre: 4 s² ℓ / (1 + (2πnℓ)²) through one low-pass, 8 s² ℓ / (1 + (2πnℓ)²)² through two.

use super::body::Body;
use super::quartic::monic_quartic_roots;
use super::{FieldSpec, Motion, PassSpec, Plow, Pose, Setting, Share, Surroundings, settle};
use realfft::num_complex::Complex64 as Complex;
use std::array::from_fn;
use std::f64::consts::{PI, TAU};

/// One mode of small motions about the rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mode {
    /// Natural frequency |s|/2π in Hz.
    pub frequency_hz: f64,
    /// Damping ratio −Re(s)/|s|.
    pub damping_ratio: f64,
}

impl Mode {
    fn of(root: Complex) -> Self {
        let size = root.norm();
        Self { frequency_hz: size / TAU, damping_ratio: -root.re / size }
    }

    /// Frequency at which it swings freely, f√(1 − ζ²), in Hz.
    #[must_use]
    pub fn damped_hz(&self) -> f64 {
        self.frequency_hz * (1.0 - self.damping_ratio.powi(2)).max(0.0).sqrt()
    }
}

/// A row or a column of (value, rate): what a force or a load has of a coordinate and of its rate.
type Derivative = (f64, f64);

/// The linearised plow.
#[derive(Clone, Copy, Debug)]
pub struct Linear {
    m: [f64; 2],
    /// Minus the derivative of (force up, moment) by heave and by turn: rows of (K, C).
    z: [[Derivative; 2]; 2],
    /// Derivative of the tail load by heave and by turn.
    tail: [Derivative; 2],
    /// Derivatives of (force up, moment, tail load) by what comes from outside.
    land_front: [Derivative; 3],
    land_bottoms: [f64; 3],
    land_tail: [Derivative; 3],
    hardness: [f64; 3],
    tractor: [f64; 3],
    /// Distances behind the front wheels of the bottoms and the tail wheel, in m.
    behind_m: (f64, f64),
    speed_mps: f64,
}

const SMALL: f64 = 1e-6;

impl Linear {
    /// About the rest in these surroundings; `None` where no rest with both wheels on the ground exists.
    #[must_use]
    pub fn about_rest(plow: &Plow, setting: &Setting, share: Share, around: &Surroundings) -> Option<Self> {
        let (rest, forces) = settle(plow, setting, share, around);
        if forces.tail_load_n <= 0.0 || forces.front_load_n <= 0.0 {
            return None;
        }
        let body = Body { plow: *plow, setting: *setting, share, extra_damping_per_s: 0.0 };
        let out = |motion: &Motion, around: &Surroundings| -> [f64; 3] {
            let forces = body.forces(motion, around);
            let (up_n, nose_down_n_m) = body.resultant(&forces, &motion.pose);
            [up_n, nose_down_n_m, forces.tail_load_n]
        };
        let difference = |plus: [f64; 3], minus: [f64; 3]| -> [f64; 3] {
            from_fn(|i| (plus[i] - minus[i]) / (2.0 * SMALL))
        };
        let by_motion = |heave_m: f64, turn_rad: f64, heave_rate: f64, turn_rate: f64| {
            let at = |sign: f64| Motion {
                pose: Pose {
                    heave_m: rest.heave_m + sign * SMALL * heave_m,
                    nose_down_rad: rest.nose_down_rad + sign * SMALL * turn_rad,
                },
                heave_rate_m_per_s: sign * SMALL * heave_rate,
                nose_down_rad_per_s: sign * SMALL * turn_rate,
            };
            difference(out(&at(1.0), around), out(&at(-1.0), around))
        };
        let still = Motion { pose: rest, ..Motion::default() };
        let by_outside = |change: fn(&mut Surroundings, f64)| {
            let at = |sign: f64| {
                let mut changed = *around;
                change(&mut changed, sign * SMALL);
                out(&still, &changed)
            };
            difference(at(1.0), at(-1.0))
        };
        // A slope of the land is the rate of its height under the wheel over the speed.
        let pair = |height: [f64; 3], slope: [f64; 3]| from_fn(|i| (height[i], slope[i] / around.speed_mps));
        let (heave, turn) = (by_motion(1.0, 0.0, 0.0, 0.0), by_motion(0.0, 1.0, 0.0, 0.0));
        let (heave_rate, turn_rate) = (by_motion(0.0, 0.0, 1.0, 0.0), by_motion(0.0, 0.0, 0.0, 1.0));
        Some(Self {
            m: [plow.mass_kg(), plow.pitch_inertia_kg_m2],
            z: [
                [(-heave[0], -heave_rate[0]), (-turn[0], -turn_rate[0])],
                [(-heave[1], -heave_rate[1]), (-turn[1], -turn_rate[1])],
            ],
            tail: [(heave[2], heave_rate[2]), (turn[2], turn_rate[2])],
            land_front: pair(
                by_outside(|a, d| a.ground_front.0 += d),
                by_outside(|a, d| a.ground_front.1 += d),
            ),
            land_bottoms: by_outside(|a, d| a.ground_bottoms_m += d),
            land_tail: pair(by_outside(|a, d| a.ground_tail.0 += d), by_outside(|a, d| a.ground_tail.1 += d)),
            hardness: by_outside(|a, d| a.hardness += d),
            tractor: by_outside(|a, d| a.tractor_hitch_z_m += d),
            behind_m: (-plow.soil_at.x_m, -plow.tail.contact.x_m),
            speed_mps: around.speed_mps,
        })
    }

    /// About the rest of a pass on level land in soil of this hardness.
    #[must_use]
    pub fn of_pass(spec: &PassSpec, hardness: f64) -> Option<Self> {
        let around = Surroundings::level(&spec.setting, spec.speed_mps, hardness);
        Self::about_rest(&spec.plow, &spec.setting, spec.share, &around)
    }

    /// The roots with a positive imaginary part: one a mode that swings, the slowest first.
    fn roots(&self) -> Vec<Complex> {
        let ([m, j], [[(k11, c11), (k12, c12)], [(k21, c21), (k22, c22)]]) = (self.m, self.z);
        // Δ = (m s² + c11 s + k11)(j s² + c22 s + k22) − (c12 s + k12)(c21 s + k21), made monic.
        let scale = m * j;
        let coefficients = [
            (k11 * k22 - k12 * k21) / scale,
            (c11 * k22 + c22 * k11 - c12 * k21 - c21 * k12) / scale,
            (m * k22 + j * k11 + c11 * c22 - c12 * c21) / scale,
            (m * c22 + j * c11) / scale,
        ];
        let mut roots: Vec<Complex> =
            monic_quartic_roots(coefficients).into_iter().filter(|s| s.im > 1e-3).collect();
        roots.sort_by(|a, b| a.norm().total_cmp(&b.norm()));
        roots
    }

    /// The modes that swing, the slowest first: two, unless one is damped too much to.
    #[must_use]
    pub fn modes(&self) -> Vec<Mode> {
        self.roots().into_iter().map(Mode::of).collect()
    }

    /// Z(s).
    fn impedance(&self, s: Complex) -> [[Complex; 2]; 2] {
        let at = |(k, c): Derivative| s * c + k;
        let [[z11, z12], [z21, z22]] = self.z;
        [[s * s * self.m[0] + at(z11), at(z12)], [at(z21), s * s * self.m[1] + at(z22)]]
    }

    /// (heave, turn) under a force (up, moment) by one inverse of Z, or by a part of it.
    fn adjugate_times(&self, s: Complex, [up, moment]: [Complex; 2]) -> [Complex; 2] {
        let [[z11, z12], [z21, z22]] = self.impedance(s);
        [z22 * up - z12 * moment, z11 * moment - z21 * up]
    }

    fn determinant(&self, s: Complex) -> Complex {
        let [[z11, z12], [z21, z22]] = self.impedance(s);
        z11 * z22 - z12 * z21
    }

    /// Derivative of the determinant by s, at one of its roots.
    fn determinant_slope(&self, s: Complex) -> Complex {
        let [[z11, z12], [z21, z22]] = self.impedance(s);
        let [[(_, c11), (_, c12)], [(_, c21), (_, c22)]] = self.z;
        (s * (2.0 * self.m[0]) + c11) * z22 + z11 * (s * (2.0 * self.m[1]) + c22) - (z12 * c21 + z21 * c12)
    }

    /// What one unit of each thing from outside does at iω: (force up, moment, tail load), with its way along the
    /// plow; and its spectrum there, per Hz.
    fn outside(&self, field: &FieldSpec, frequency_hz: f64) -> [([Complex; 3], f64); 3] {
        let s = Complex::new(0.0, TAU * frequency_hz);
        let with_rate = |d: [Derivative; 3]| d.map(|(value, rate)| s * rate + value);
        let plain = |d: [f64; 3]| d.map(|value| Complex::new(value, 0.0));
        let late = |behind_m: f64| Complex::cis(-TAU * frequency_hz * behind_m / self.speed_mps);
        let (bottoms, tail) = (late(self.behind_m.0), late(self.behind_m.1));
        let (at_front, at_bottoms, at_tail) =
            (with_rate(self.land_front), plain(self.land_bottoms), with_rate(self.land_tail));
        let land = from_fn(|i| at_front[i] + at_bottoms[i] * bottoms + at_tail[i] * tail);
        let per_m = frequency_hz / self.speed_mps;
        let one =
            |(sd, length_m): (f64, f64)| 4.0 * sd * sd * length_m / (1.0 + (TAU * per_m * length_m).powi(2));
        let two = |(sd, length_m): (f64, f64)| {
            8.0 * sd * sd * length_m / (1.0 + (TAU * per_m * length_m).powi(2)).powi(2)
        };
        let v = self.speed_mps;
        [
            (land, (two(field.ground_long_m) + two(field.ground_short_m)) / v),
            (
                plain(self.hardness).map(|of| of * bottoms),
                (one(field.hardness_long) + one(field.hardness_short)) / v,
            ),
            (plain(self.tractor), two(field.tractor_bounce_m) / v),
        ]
    }

    fn tail_of(&self, s: Complex, q: [Complex; 2]) -> Complex {
        let [heave, turn] = self.tail;
        (s * heave.1 + heave.0) * q[0] + (s * turn.1 + turn.0) * q[1]
    }

    /// Spectrum of the tail load over such a field, one-sided, in N²/Hz.
    #[must_use]
    pub fn tail_load_spectrum(&self, field: &FieldSpec, frequency_hz: f64) -> f64 {
        let s = Complex::new(0.0, TAU * frequency_hz);
        let determinant = self.determinant(s);
        let of = |([up, moment, direct], density): ([Complex; 3], f64)| {
            let q = self.adjugate_times(s, [up, moment]).map(|q| q / determinant);
            (self.tail_of(s, q) + direct).norm().powi(2) * density
        };
        self.outside(field, frequency_hz).map(of).iter().sum()
    }

    /// What a root and its conjugate have of (heave, turn) at s, under a force (up, moment).
    fn part_of(&self, root: Complex, s: Complex, force: [Complex; 2]) -> [Complex; 2] {
        let part = |root: Complex| {
            let under = self.determinant_slope(root) * (s - root);
            self.adjugate_times(root, force).map(|q| q / under)
        };
        let ([a, b], [c, d]) = (part(root), part(root.conj()));
        [a + c, b + d]
    }

    /// The same of one mode alone at its own damped frequency, as the RMS (N) of a resonance of that height and of
    /// the mode's width: √(π ζ f S).
    fn mode_rms_n(&self, field: &FieldSpec, root: Complex) -> f64 {
        let mode = Mode::of(root);
        let s = Complex::new(0.0, root.im);
        let of = |([up, moment, _], density): ([Complex; 3], f64)| {
            self.tail_of(s, self.part_of(root, s, [up, moment])).norm().powi(2) * density
        };
        let density: f64 = self.outside(field, root.im / TAU).map(of).iter().sum();
        (PI * mode.damping_ratio.max(0.0) * mode.frequency_hz * density).sqrt()
    }

    /// The modes, slowest first, each with the RMS (N) of the tail load that it swings with over such a field.
    #[must_use]
    pub fn modes_in(&self, field: &FieldSpec) -> Vec<(Mode, f64)> {
        self.roots().into_iter().map(|root| (Mode::of(root), self.mode_rms_n(field, root))).collect()
    }

    /// The modes, slowest first, each with the RMS (N) of the whole tail load in its half-power band f(1 ± ζ): the root
    /// of the integral of [`Linear::tail_load_spectrum`]. Unlike the RMS of a mode by itself it is what can be seen,
    /// where the same land drives both modes.
    #[must_use]
    pub fn swing_in(&self, field: &FieldSpec) -> Vec<(Mode, f64)> {
        let swing = |mode: Mode| {
            let steps = 400;
            let low_hz = mode.frequency_hz * (1.0 - mode.damping_ratio);
            let step_hz = 2.0 * mode.frequency_hz * mode.damping_ratio / f64::from(steps);
            let at = |i: i32| self.tail_load_spectrum(field, low_hz + (f64::from(i) + 0.5) * step_hz);
            (mode, ((0..steps).map(at).sum::<f64>() * step_hz).sqrt())
        };
        self.modes().into_iter().map(swing).collect()
    }
}

#[cfg(test)]
mod tests;
