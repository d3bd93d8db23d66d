use super::*;
use crate::plow::{Case, DrawnPlow, Pass, Point, Wheel};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

/// A body on two springs, as in books: no soil, no pull, no damping, and springs that stand level with the weight,
/// so that no load gains an arm when the body turns.
fn half_car(mass_kg: f64, inertia_kg_m2: f64, front: (f64, f64), tail: (f64, f64)) -> Vec<Mode> {
    let weight_n = mass_kg * 9.806_65;
    let wheelbase_m = front.1 + tail.1;
    let wheel = |x_m: f64, stiffness_n_per_m: f64, load_n: f64| Wheel {
        contact: Point { x_m, z_m: 0.0 },
        stiffness_n_per_m,
        damping_n_s_per_m: 0.0,
        set_compression_m: load_n / stiffness_n_per_m,
        ..Plow::TWO_BOTTOM.front
    };
    let plow = Plow {
        weight_n,
        weight_at: Point { x_m: -front.1, z_m: 0.0 },
        pitch_inertia_kg_m2: inertia_kg_m2,
        front: wheel(0.0, front.0, weight_n * tail.1 / wheelbase_m),
        tail: wheel(-wheelbase_m, tail.0, weight_n * front.1 / wheelbase_m),
        rolling_resistance: 0.0,
        specific_draft_pa: 0.0,
        ..Plow::TWO_BOTTOM
    };
    let setting = Setting { plow_hitch_z_m: 0.1, tractor_hitch_z_m: 0.3 };
    let around = Surroundings::level(&setting, 1.6, 1.0);
    Linear::about_rest(&plow, &setting, Share::Sharp, &around).unwrap().modes()
}

/// Natural frequencies of two half-cars: mass 1000 kg, radius of gyration 0.9 m, 18 kN/m at 1.0 m and 22 kN/m at
/// 1.5 m (Rao, Mechanical Vibrations, chapter on systems with two degrees of freedom); weight 3220 lbf, moment of
/// inertia 1600 lbf·ft·s², 2400 lbf/ft at 4.5 ft and 2600 lbf/ft at 5.5 ft (Thomson, Theory of Vibration, the same
/// chapter). Given figures from memory, answers worked out anew from them.
#[test]
fn half_cars_of_two_books() {
    // 1 lbf = 4.448 221 615 260 5 N, 1 ft = 0.3048 m (exact); the book's 32.2 ft/s² makes 3220 lbf 100 slug.
    let (lbf, ft) = (4.448_221_615_260_5, 0.3048);
    for (modes, wanted) in [
        (half_car(1000.0, 1000.0 * 0.81, (18e3, 1.0), (22e3, 1.5)), [5.8593, 9.4341]),
        (
            half_car(
                100.0 * lbf / ft,
                1600.0 * lbf * ft,
                (2400.0 * lbf / ft, 4.5 * ft),
                (2600.0 * lbf / ft, 5.5 * ft),
            ),
            [6.8994, 9.0515],
        ),
    ] {
        assert_eq!(modes.len(), 2);
        for (mode, wanted) in modes.iter().zip(wanted) {
            assert!((mode.frequency_hz * TAU / wanted - 1.0).abs() < 2e-5, "{mode:?} {wanted}");
            assert!(mode.damping_ratio.abs() < 1e-6, "{mode:?}");
        }
    }
}

/// Coefficients c0 to c3 of the characteristic polynomial of a 4×4 matrix by the method of Faddeev and LeVerrier.
fn characteristic(a: &[[f64; 4]; 4]) -> [f64; 4] {
    let (mut product, mut coefficients) = ([[0.0; 4]; 4], [0.0; 4]);
    let mut last = 1.0;
    for k in 1..=4 {
        let mut m = product;
        (0..4).for_each(|i| m[i][i] += last);
        for i in 0..4 {
            for j in 0..4 {
                product[i][j] = (0..4).map(|l| a[i][l] * m[l][j]).sum();
            }
        }
        last = -(0..4).map(|i| product[i][i]).sum::<f64>() / k as f64;
        coefficients[4 - k] = last;
    }
    coefficients
}

/// The modes that the simulation itself shows when it is let go a little off its rest in four ways: what takes
/// the four starts to where they are a short time later has eigenvalues e^(s·time).
fn modes_of_the_free_decay(spec: &PassSpec) -> Vec<Mode> {
    let around = Surroundings::level(&spec.setting, spec.speed_mps, 1.0);
    let (rest, _) = settle(&spec.plow, &spec.setting, spec.share, &around);
    let body = Body { plow: spec.plow, setting: spec.setting, share: spec.share, extra_damping_per_s: 0.0 };
    let (small, steps, step_s) = (1e-5, 100, 0.000_2);
    let let_go = |way: usize, sign: f64| {
        let mut off = [0.0; 4];
        off[way] = sign * small;
        let pose = Pose { heave_m: rest.heave_m + off[0], nose_down_rad: rest.nose_down_rad + off[1] };
        let mut motion = Motion { pose, heave_rate_m_per_s: off[2], nose_down_rad_per_s: off[3] };
        for _ in 0..steps {
            motion = body.step(&motion, &[around; 3], step_s);
        }
        let Motion { pose, heave_rate_m_per_s, nose_down_rad_per_s } = motion;
        [pose.heave_m, pose.nose_down_rad, heave_rate_m_per_s, nose_down_rad_per_s]
    };
    let columns = [0, 1, 2, 3].map(|way| (let_go(way, 1.0), let_go(way, -1.0)));
    let transition = [0, 1, 2, 3].map(|i| columns.map(|(plus, minus)| (plus[i] - minus[i]) / (2.0 * small)));
    let time_s = f64::from(steps) * step_s;
    let mut modes: Vec<Mode> = monic_quartic_roots(characteristic(&transition))
        .into_iter()
        .filter(|root| root.im > 0.0)
        .map(|root| Mode::of(Complex::new(root.norm().ln() / time_s, root.im.atan2(root.re) / time_s)))
        .collect();
    modes.sort_by(|a, b| a.frequency_hz.total_cmp(&b.frequency_hz));
    modes
}

#[test]
fn the_modes_are_those_of_the_simulations_own_free_decay() {
    let mut specs = vec![Case::Balanced.pass(1, 10.0)];
    specs.extend((0..12).map(|seed| DrawnPlow::draw(&mut ChaCha8Rng::seed_from_u64(seed)).pass));
    let mut compared = 0;
    for spec in specs {
        let Some(linear) = Linear::of_pass(&spec, 1.0) else { continue };
        let (told, seen) = (linear.modes(), modes_of_the_free_decay(&spec));
        assert_eq!(told.len(), seen.len(), "{spec:?}");
        for (told, seen) in told.iter().zip(&seen) {
            compared += 1;
            assert!((told.frequency_hz / seen.frequency_hz - 1.0).abs() < 1e-3, "{told:?} {seen:?}");
            assert!((told.damping_ratio - seen.damping_ratio).abs() < 1e-3, "{told:?} {seen:?}");
        }
    }
    assert!(compared >= 20, "{compared}");
}

/// Power of a series at a frequency, one-sided per Hz, by Hann windows of `length` values that overlap by half.
fn density(values: &[f64], rate_hz: f64, length: usize, frequency_hz: f64) -> f64 {
    let window: Vec<f64> = (0..length).map(|i| 0.5 - 0.5 * (TAU * i as f64 / length as f64).cos()).collect();
    let power: f64 = window.iter().map(|w| w * w).sum();
    let (mut sum, mut count) = (0.0, 0);
    for start in (0..=values.len() - length).step_by(length / 2) {
        let part = &values[start..start + length];
        let mean = part.iter().sum::<f64>() / length as f64;
        let (mut re, mut im) = (0.0, 0.0);
        for (i, (value, w)) in part.iter().zip(&window).enumerate() {
            let angle = TAU * frequency_hz * i as f64 / rate_hz;
            re += w * (value - mean) * angle.cos();
            im += w * (value - mean) * angle.sin();
        }
        sum += 2.0 * (re * re + im * im) / (rate_hz * power);
        count += 1;
    }
    sum / f64::from(count)
}

/// The spectrum of a long pass without noise over a field too smooth to lift a wheel is the linearised one, at
/// both modes, between and beside them.
#[test]
fn the_spectrum_of_the_tail_load_is_what_the_simulation_shows() {
    let mut plow = Plow::TWO_BOTTOM;
    // Front wheels as soft as the tail's spring: both modes live.
    (plow.front.stiffness_n_per_m, plow.front.set_compression_m) = (40_000.0, 0.045);
    (plow.front.damping_n_s_per_m, plow.tail.damping_n_s_per_m) = (250.0, 150.0);
    let mut spec = Case::Balanced.pass(5, 1_500.0);
    spec.plow = plow;
    spec.field = FieldSpec {
        hardness_long: (0.02, 20.0),
        hardness_short: (0.03, 1.5),
        ground_long_m: (0.001, 5.0),
        ground_short_m: (0.000_5, 0.3),
        tractor_bounce_m: (0.000_5, 1.5),
    };
    let linear = Linear::of_pass(&spec, 1.0).unwrap();
    let modes = linear.modes_in(&spec.field);
    let rate_hz = 40.0;
    let mut pass = Pass::with_step(&spec, spec.longest_step_s());
    let mut tail_n = Vec::new();
    while !pass.is_over() {
        let state = pass.state();
        if state.working && state.t_s > spec.times.working_from_s() + 5.0 {
            tail_n.push(state.forces.tail_load_n);
        }
        pass.advance(1.0 / rate_hz);
    }
    let [(slow, _), (fast, _)] = modes[..] else { panic!("{modes:?}") };
    let places =
        [0.3, slow.damped_hz(), (slow.frequency_hz + fast.frequency_hz) / 2.0, fast.damped_hz(), 5.0];
    for frequency_hz in places {
        let (told, seen) = (
            linear.tail_load_spectrum(&spec.field, frequency_hz),
            density(&tail_n, rate_hz, 600, frequency_hz),
        );
        // 200 segments: the density is known to about 8 %; a few per cent more for the window's width.
        assert!((seen / told - 1.0).abs() < 0.3, "{frequency_hz} Hz: {told} {seen} of {modes:?}");
    }
    // All of it together is the variance.
    let step_hz = 0.001;
    let variance: f64 =
        (1..15_000).map(|i| step_hz * linear.tail_load_spectrum(&spec.field, f64::from(i) * step_hz)).sum();
    let mean = tail_n.iter().sum::<f64>() / tail_n.len() as f64;
    let seen = tail_n.iter().map(|n| (n - mean).powi(2)).sum::<f64>() / tail_n.len() as f64;
    assert!((seen / variance - 1.0).abs() < 0.15, "{variance} {seen}");
}

/// The parts of the modes add up to the whole motion, at any frequency and under any force.
#[test]
fn the_modes_parts_add_up_to_the_motion() {
    let linear = Linear::of_pass(&Case::Balanced.pass(5, 10.0), 1.0).unwrap();
    let roots = linear.roots();
    assert_eq!(roots.len(), 2);
    for frequency_hz in [0.1, 2.0, 3.1, 4.4, 9.0] {
        let s = Complex::new(0.0, TAU * frequency_hz);
        for force in [[1.0, 0.0], [0.3, -2.0]].map(|f: [f64; 2]| f.map(|f| Complex::new(f, 0.5 * f))) {
            let whole = linear.adjugate_times(s, force).map(|q| q / linear.determinant(s));
            let parts = [linear.part_of(roots[0], s, force), linear.part_of(roots[1], s, force)];
            for i in 0..2 {
                let sum = parts[0][i] + parts[1][i];
                assert!((sum - whole[i]).norm() < 1e-9 * whole[i].norm(), "{sum:?} {whole:?}");
            }
        }
    }
}

/// A mode that is damped next to nothing does all there is at its frequency, and its RMS is the root of a
/// resonance's area: height times π/2 times the width at half of it, 2ζf.
#[test]
fn the_rms_of_a_mode_is_the_area_of_its_peak() {
    let mut spec = Case::Balanced.pass(5, 10.0);
    // Takes away nearly all the damping that soil and front wheels give the slower mode.
    spec.plow.tail.damping_n_s_per_m = -140.0;
    let linear = Linear::of_pass(&spec, 1.0).unwrap();
    let (mode, rms_n) = linear.modes_in(&spec.field)[0];
    assert!((0.002..0.01).contains(&mode.damping_ratio), "{mode:?}");
    let (top_hz, half_width_hz) = (mode.damped_hz(), mode.damping_ratio * mode.frequency_hz);
    let density = |hz: f64| linear.tail_load_spectrum(&spec.field, hz);
    let area = density(top_hz) * PI * half_width_hz;
    assert!((rms_n / area.sqrt() - 1.0).abs() < 0.01, "{rms_n} {}", area.sqrt());
}
