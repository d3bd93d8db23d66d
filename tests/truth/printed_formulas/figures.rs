//! "Figures and their intervals", "Spectrum", "Pull to tail load".

use super::{RUN, near, percentile};
use ingest::plow::ChannelRole;
use signals::slices;
use stats::bins::Stretch;
use stats::series_figures::{Wanted, series_figures};
use stats::student::{chi_square_quantile, t_quantile, t_two_sided_p};
use std::f64::consts::{PI, SQRT_2};

/// "Figures and their intervals", for the mean of the pull: bins, waves, shapes, weights, Student's law.
#[test]
fn the_interval_of_a_mean_is_that_of_the_book() {
    let pull = &RUN.signals.channels[&ChannelRole::Pull];
    let pieces = slices(pull, &RUN.segments);
    let count: usize = pieces.iter().map(|piece| piece.len()).sum();
    let mean = pieces.iter().copied().flatten().sum::<f64>() / count as f64;
    let width = count.div_ceil(1024);
    let sums: Vec<f64> = (pieces.iter().flat_map(|piece| piece.chunks(width)))
        .map(|bin| bin.iter().map(|reading| reading - mean).sum())
        .collect();
    let n = sums.len();
    let waves = 48.min(n / 2);
    let c_j = |j: usize| {
        let term = |(i, sum): (usize, &f64)| {
            sum * (n as f64 / count as f64) * (PI * j as f64 * (i as f64 + 0.5) / n as f64).cos()
        };
        SQRT_2 / n as f64 * sums.iter().enumerate().map(term).sum::<f64>()
    };
    let squares: Vec<f64> = (1..=waves).map(|j| c_j(j).powi(2)).collect();
    let q_j = |j: usize, lambda: f64| {
        let m_j = lambda / (1.0 + (PI * j as f64 * lambda).powi(2));
        2.0 * m_j * (1.0 - 2.0 * m_j * (1.0 - (-1.0_f64).powi(j as i32) * (-1.0 / lambda).exp()))
    };
    let q_0 = |lambda: f64| 2.0 * lambda * (1.0 - lambda * (1.0 - (-1.0 / lambda).exp()));
    let length = |i: usize| 0.0025 * (0.4_f64 / 0.0025).powf(i as f64 / 11.0);
    let mut shapes = Vec::new();
    for long in 0..12 {
        shapes.push((length(long), length(long), 1.0));
        for short in 0..long {
            shapes.extend([0.1, 0.25, 0.5, 0.75, 0.9].map(|share| (length(long), length(short), share)));
        }
    }
    assert_eq!(shapes.len(), 342);
    let weighed = |(long, short, share): &(f64, f64, f64)| {
        let mixed = |of: &dyn Fn(f64) -> f64| share * of(*long) + (1.0 - share) * of(*short);
        let q: Vec<f64> = (1..=waves).map(|j| mixed(&|lambda| q_j(j, lambda))).collect();
        let s_2 = squares.iter().zip(&q).map(|(c_2, q)| c_2 / q).sum::<f64>() / waves as f64;
        let ln_weight = -0.5 * waves as f64 * s_2.ln() - 0.5 * q.iter().map(|q| q.ln()).sum::<f64>();
        (ln_weight, (s_2 * mixed(&q_0)).sqrt())
    };
    let shapes: Vec<(f64, f64)> = shapes.iter().map(weighed).collect();
    let most = shapes.iter().map(|(ln_weight, _)| *ln_weight).fold(f64::NEG_INFINITY, f64::max);
    let beyond = |h: f64| {
        let (mut all, mut out) = (0.0, 0.0);
        for (ln_weight, scale) in &shapes {
            let weight = (ln_weight - most).exp();
            all += weight;
            out += weight * t_two_sided_p(h / scale, waves as f64);
        }
        out / all
    };
    let stretch = |(piece, segment): (&&[f64], &signals::Segment)| (segment.start_s, piece.to_vec());
    let stretches: Vec<(f64, Vec<f64>)> = pieces.iter().zip(&RUN.segments).map(stretch).collect();
    let stretches: Vec<Stretch<'_>> =
        stretches.iter().map(|(start_s, values)| Stretch { start_s: *start_s, values }).collect();
    let wanted = Wanted { below: None, at_percent: &[5.0, 95.0] };
    let told = series_figures(&stretches, RUN.signals.rate_hz, wanted).unwrap();
    near(mean, told.mean.value, 1e-12, "mean");
    let h = told.mean.high - told.mean.value;
    assert!((beyond(h) - 0.05).abs() < 5e-4, "{} of the law is beyond h", beyond(h));
    // What the report has is wider by what the calibration leaves open.
    assert!(RUN.summary.pull.mean_n.high - RUN.summary.pull.mean_n.value >= h);
    let values: Vec<f64> = pieces.concat();
    let squared: f64 = values.iter().map(|reading| (reading - mean).powi(2)).sum();
    near((squared / (count - 1) as f64).sqrt(), RUN.summary.pull.sd_n.value, 1e-9, "SD");
    near(percentile(values.clone(), 0.05), RUN.summary.pull.p5_n.value, 1e-9, "5th percentile");
    near(percentile(values, 0.95), RUN.summary.pull.p95_n.value, 1e-9, "95th percentile");
}

/// Segments half over each other, their means taken out, under a periodic Hann window.
fn segments(values: &[f64], length: usize) -> Vec<Vec<f64>> {
    let pieces = slices(values, &RUN.segments);
    let windowed = |segment: &[f64]| {
        let mean = segment.iter().sum::<f64>() / length as f64;
        let window = |i: usize| 0.5 - 0.5 * (2.0 * PI * i as f64 / length as f64).cos();
        segment.iter().enumerate().map(|(i, reading)| window(i) * (reading - mean)).collect()
    };
    pieces.iter().flat_map(|piece| piece.windows(length).step_by(length / 2)).map(windowed).collect()
}

/// Real and imaginary part of a segment's transform at a bin.
fn transform(segment: &[f64], bin: usize) -> (f64, f64) {
    let angle = |i: usize| 2.0 * PI * (bin * i % segment.len()) as f64 / segment.len() as f64;
    let part = |of: fn(f64) -> f64| segment.iter().enumerate().map(|(i, x)| x * of(angle(i))).sum::<f64>();
    (part(f64::cos), -part(f64::sin))
}

/// "Spectrum": density in single bins, what its sum is, degrees of freedom, ends of the interval.
#[test]
fn the_spectrum_is_that_of_the_book() {
    let told = RUN.summary.load_spectrum.as_ref().unwrap();
    let (length, rate_hz) = (told.block_readings, told.rate_hz);
    let load = &RUN.carried.as_ref().unwrap().values_n;
    let windowed = segments(load, length);
    let window_squares = 3.0 / 8.0 * length as f64;
    let density = |bin: usize| {
        let power = windowed.iter().map(|segment| transform(segment, bin)).map(|(re, im)| re * re + im * im);
        2.0 * power.sum::<f64>() / windowed.len() as f64 / (rate_hz * window_squares)
    };
    for place in [0, 10, told.frequency_hz.len() / 2] {
        let bin = (told.frequency_hz[place] / told.bin_hz).round() as usize;
        near(density(bin), told.density_n2_per_hz[place], 1e-6, "G");
    }
    let stretches: Vec<usize> = RUN.segments.iter().map(|segment| segment.rows.len()).collect();
    let of_each = |len: &usize| if *len < length { 0 } else { (len - length) / (length / 2) + 1 };
    let k: usize = stretches.iter().map(of_each).sum();
    let k_2: usize = stretches.iter().map(|len| of_each(len).saturating_sub(1)).sum();
    let nu = 36.0 * (k * k) as f64 / (18 * k + k_2) as f64;
    near(nu, told.dof, 1e-12, "ν");
    near(nu / chi_square_quantile(0.975, nu).unwrap(), told.low_factor, 1e-9, "lower end");
    near(nu / chi_square_quantile(0.025, nu).unwrap(), told.high_factor, 1e-9, "upper end");
    // All bins, those beside the searched ones too.
    let all = &RUN.load_spectrum.as_ref().unwrap().spectrum;
    let within: f64 = windowed.iter().flatten().map(|x| x * x).sum::<f64>() / window_squares / k as f64;
    near(within, all.density.iter().sum::<f64>() * all.bin_hz, 1e-6, "variance within segments");
}

/// "Pull to tail load": β_m and its jackknife.
#[test]
fn the_measured_gain_is_that_of_the_book() {
    let told = RUN.summary.load_spectrum.as_ref().unwrap();
    let (length, bin_hz) = (told.block_readings, told.bin_hz);
    let limit_hz = RUN.summary.bobbing.as_ref().map_or(0.5, |of| (of.frequency_hz.value / 3.0).min(0.5));
    let bins = 1..=((limit_hz / bin_hz + 1e-9) as usize);
    let spectra = |values: &[f64]| -> Vec<Vec<(f64, f64)>> {
        let of_segment = |segment: Vec<f64>| bins.clone().map(|bin| transform(&segment, bin)).collect();
        segments(values, length).into_iter().map(of_segment).collect()
    };
    let pull = spectra(&RUN.signals.channels[&ChannelRole::Pull]);
    let tail = spectra(&RUN.carried.as_ref().unwrap().values_n);
    let gain = |left_out: Option<usize>| {
        let (mut above, mut below) = (0.0, 0.0);
        for bin in 0..bins.clone().count() {
            let (mut pp, mut vv, mut re, mut im) = (0.0, 0.0, 0.0, 0.0);
            for (at, (p, v)) in pull.iter().zip(&tail).enumerate() {
                if Some(at) != left_out {
                    let ((a, b), (c, d)) = (p[bin], v[bin]);
                    (pp, vv) = (pp + a * a + b * b, vv + c * c + d * d);
                    (re, im) = (re + a * c + b * d, im + a * d - b * c);
                }
            }
            let coherence = (re * re + im * im) / (pp * vv);
            (above, below) = (above + coherence * re, below + coherence * pp);
        }
        above / below
    };
    let (figure, k) = (RUN.summary.pull_to_tail.as_ref().unwrap().gain_n_per_n, pull.len() as f64);
    near(gain(None), figure.value, 1e-7, "β_m");
    let without: Vec<f64> = (0..pull.len()).map(|at| gain(Some(at))).collect();
    let mean = without.iter().sum::<f64>() / k;
    let squares: f64 = without.iter().map(|gain| (gain - mean).powi(2)).sum();
    let half_nu = told.dof / 2.0;
    let variance = (k - 1.0) / k * squares * (k / (half_nu - 1.0));
    let half = t_quantile(0.975, half_nu - 2.0) * variance.sqrt();
    near(half, figure.high - figure.value, 1e-6, "interval of β_m");
}
