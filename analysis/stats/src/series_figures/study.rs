//! How often the intervals hold the figures of the process, on ground of one scale and of two.
//!
//! A field is the sum of two Gaussian processes with exponential correlation and, for a channel that bobs, of a
//! narrow-band oscillation. The lengths allowed in [`super::super::long_run`] were chosen on series of another
//! generator and other seeds.

use super::*;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// One kind of ground, and how it is driven over.
#[derive(Clone, Copy)]
struct Field {
    /// Longer correlation length as a share of the pass, and what it has of the variance.
    long: (f64, f64),
    /// Shorter one, as a share of the pass.
    short: f64,
    /// What an oscillation of 2 Hz with a damping ratio of 0.1 has beside them, as a share of their variance.
    bobbing: f64,
    minutes: f64,
    rate_hz: f64,
    /// The values are exp(skew·z) of the Gaussian z, over skew; 0 for z itself.
    skew: f64,
}

const MINUTE_AND_A_HALF: Field =
    Field { long: (1.0, 0.0), short: 0.01, bobbing: 0.0, minutes: 1.5, rate_hz: 25.0, skew: 0.0 };

impl Field {
    fn name(&self) -> String {
        let (long, share) = self.long;
        let scales = match share {
            0.0 => format!("1/{:.0}", 1.0 / self.short),
            _ => format!("{share:.1} of 1/{:.0}, rest 1/{:.0}", 1.0 / long, 1.0 / self.short),
        };
        let bobbing = if self.bobbing > 0.0 { ", bobbing" } else { "" };
        let skew = if self.skew > 0.0 { format!(", exp {:.1}", self.skew) } else { String::new() };
        format!("{scales}{bobbing}{skew}; {:.1} min, {:.0} Hz", self.minutes, self.rate_hz)
    }

    /// One pass; z has variance 1 + bobbing.
    fn pass(&self, seed: u64) -> Vec<f64> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut next = || -> f64 { StandardNormal.sample(&mut rng) };
        let n = (60.0 * self.minutes * self.rate_hz) as usize;
        let phi = |tau: f64| (-1.0 / (tau * n as f64)).exp();
        let (long, short) = (phi(self.long.0), phi(self.short));
        let (mut slow, mut fast) = (next(), next());
        // An oscillator as a rotating, shrinking pair: variance 1 in each part.
        let angle = std::f64::consts::TAU * 2.0 / self.rate_hz;
        let shrink = (-0.1 * angle).exp();
        let (sin, cos) = angle.sin_cos();
        let kick = (1.0 - shrink * shrink).sqrt();
        let mut bob = (next(), next());
        (0..n)
            .map(|_| {
                slow = long * slow + (1.0 - long * long).sqrt() * next();
                fast = short * fast + (1.0 - short * short).sqrt() * next();
                let turned = (cos * bob.0 - sin * bob.1, sin * bob.0 + cos * bob.1);
                bob = (shrink * turned.0 + kick * next(), shrink * turned.1 + kick * next());
                let z = self.long.1.sqrt() * slow
                    + (1.0 - self.long.1).sqrt() * fast
                    + self.bobbing.sqrt() * bob.0;
                self.skewed(z) + OFFSET
            })
            .collect()
    }

    fn skewed(&self, z: f64) -> f64 {
        if self.skew > 0.0 { (self.skew * z).exp() / self.skew } else { z }
    }

    /// What is true of the process.
    fn truth(&self) -> Truth {
        let sd_z = (1.0 + self.bobbing).sqrt();
        let (mean, sd) = if self.skew > 0.0 {
            let s2 = (self.skew * sd_z).powi(2);
            let mean = (0.5 * s2).exp();
            (mean / self.skew, mean * s2.exp_m1().sqrt() / self.skew)
        } else {
            (0.0, sd_z)
        };
        let [p5, below, p95] =
            [-1.644_853_6, -2.053_748_9, 1.644_853_6].map(|z| OFFSET + self.skewed(z * sd_z));
        Truth { mean: mean + OFFSET, sd, p5, p95, below }
    }
}

/// Keeps the mean off zero, so that the ratio of SD and mean can be told.
const OFFSET: f64 = 10.0;
/// The share of time under [`Truth::below`].
const SHARE_BELOW: f64 = 0.02;

struct Truth {
    mean: f64,
    sd: f64,
    p5: f64,
    p95: f64,
    below: f64,
}

const NAMES: [&str; 8] = ["mean", "SD", "variance", "CV", "p5", "p95", "share", "drift"];

/// In how many of `passes` each interval held, and the mean width of the interval of the mean in SD.
fn held(field: &Field, seeds: std::ops::Range<u64>) -> ([f64; 8], f64) {
    let truth = field.truth();
    let wanted = Wanted { below: Some(truth.below), at_percent: &[5.0, 95.0] };
    let (mut held, mut width) = ([0.0; 8], 0.0);
    let count = (seeds.end - seeds.start) as f64;
    for seed in seeds {
        let values = field.pass(seed);
        let f = series_figures(&[Stretch { start_s: 0.0, values: &values }], field.rate_hz, wanted).unwrap();
        let hits = [
            f.mean.holds(truth.mean),
            f.sd.holds(truth.sd),
            f.variance.holds(truth.sd * truth.sd),
            f.cv.is_some_and(|cv| cv.holds(truth.sd / truth.mean)),
            f.percentiles[0].holds(truth.p5),
            f.percentiles[1].holds(truth.p95),
            f.below_share.unwrap().holds(SHARE_BELOW),
            f.drift_per_min.holds(0.0),
        ];
        held.iter_mut().zip(hits).for_each(|(h, hit)| *h += f64::from(u8::from(hit)) / count);
        width += (f.mean.high - f.mean.low) / truth.sd / count;
    }
    (held, width)
}

fn table(fields: &[Field], seeds: &std::ops::Range<u64>) -> Vec<(Field, [f64; 8])> {
    println!("{:<52}{}   width of mean / SD", "field", NAMES.map(|n| format!("{n:>9}")).concat());
    let row = |field: &Field| {
        let (held, width) = held(field, seeds.clone());
        let cells = held.map(|h| format!("{:>8.1}%", 100.0 * h)).concat();
        println!("{:<52}{cells}   {width:.2}", field.name());
        (*field, held)
    };
    fields.iter().map(row).collect()
}

fn two(long: f64, share: f64, short: f64) -> Field {
    Field { long: (long, share), short, ..MINUTE_AND_A_HALF }
}

#[test]
fn intervals_hold_the_process_on_ground_of_one_scale_and_of_two() {
    let one = Field { short: 1.0 / 8.0, ..MINUTE_AND_A_HALF };
    let bobbing = Field { bobbing: 1.0, ..two(1.0 / 8.0, 0.5, 1.0 / 80.0) };
    // Hardness over 2.5 m and over 25 m on a pass of 153 m.
    let fields = [MINUTE_AND_A_HALF, two(25.0 / 153.0, 0.5, 2.5 / 153.0), one, bobbing];
    for (field, held) in table(&fields, &(7000..7100)) {
        for (what, held) in NAMES.iter().zip(held) {
            // An interval that holds in 95 % holds in under 88 of 100 in 0.4 % of studies.
            assert!(held >= 0.88, "{what} of {}: {held}", field.name());
        }
    }
}

#[test]
#[ignore = "400 series of each of some thirty fields take minutes; prints the table"]
fn full_study() {
    let mut fields = Vec::new();
    for long in [1.0 / 100.0, 1.0 / 40.0, 1.0 / 16.0, 1.0 / 8.0] {
        fields.push(Field { short: long, ..MINUTE_AND_A_HALF });
        fields.extend([0.2, 0.5, 0.8].map(|share| two(long, share, long / 10.0)));
    }
    fields.extend([0.2, 0.3, 0.5].map(|share| two(1.0 / 8.0, share, 1.0 / 300.0)));
    let hard = two(1.0 / 8.0, 0.5, 1.0 / 80.0);
    fields.push(Field { bobbing: 1.0, ..hard });
    fields.push(Field { bobbing: 0.3, ..two(1.0 / 40.0, 0.3, 1.0 / 400.0) });
    fields.extend([1.0, 3.0, 5.0].map(|minutes| Field { minutes, ..hard }));
    fields.push(Field { rate_hz: 200.0, ..hard });
    fields.push(Field { minutes: 1.0, rate_hz: 1000.0, ..hard });
    fields.extend(
        [MINUTE_AND_A_HALF, two(1.0 / 40.0, 0.5, 1.0 / 400.0), hard].map(|f| Field { skew: 0.3, ..f }),
    );
    for (field, held) in table(&fields, &(9000..9400)) {
        for (what, held) in NAMES.iter().zip(held) {
            assert!(held >= 0.85, "{what} of {}: {held}", field.name());
        }
    }
}
