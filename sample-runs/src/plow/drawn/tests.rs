use super::*;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

fn many() -> Vec<DrawnPlow> {
    (100..180).map(|seed| DrawnPlow::draw(&mut ChaCha8Rng::seed_from_u64(seed))).collect()
}

#[test]
fn each_drawn_plow_is_what_is_promised() {
    for drawn in many() {
        let (pass, plow) = (&drawn.pass, &drawn.pass.plow);
        assert!((150.0..=900.0).contains(&plow.mass_kg()) && (1..=4).contains(&drawn.bottoms));
        for wheel in [&plow.front, &plow.tail] {
            assert!((15e3..=2e6).contains(&wheel.stiffness_n_per_m));
            assert!(wheel.set_compression_m < 0.14, "{drawn:?}");
        }
        let standing_share = -plow.weight_at.x_m / plow.wheelbase_m();
        assert!((0.2..0.7).contains(&standing_share));
        assert!((3.0 / 3.6..=8.0 / 3.6).contains(&pass.speed_mps) && RATES_HZ.contains(&drawn.rate_hz));
        let field = &pass.field;
        for (_, length_m) in [field.hardness_long, field.hardness_short] {
            assert!((1.0..=40.0).contains(&length_m));
        }
        assert_eq!(drawn.plow_holes_m[drawn.holes.0], pass.setting.plow_hitch_z_m);
        assert_eq!(drawn.tractor_holes_m[drawn.holes.1], pass.setting.tractor_hitch_z_m);
        // The loads it was designed by are those it comes to rest with, where both wheels carry and the pose
        // is near the measured one.
        let around = Surroundings::level(&pass.setting, pass.speed_mps, 1.0);
        let (pose, forces) = settle(plow, &pass.setting, pass.share, &around);
        if pose.heave_m.abs() < 0.004 && pose.nose_down_rad.abs() < 0.004 {
            let (front_n, tail_n) = drawn.design_loads_n;
            let off_n = (forces.front_load_n - front_n).abs().max((forces.tail_load_n - tail_n).abs());
            assert!(off_n < 0.12 * plow.weight_n || front_n.min(tail_n) < 0.0, "{off_n} {drawn:?}");
        }
    }
}

#[test]
fn drawn_plows_are_of_every_kind() {
    let all = many();
    let indices: Vec<f64> = all
        .iter()
        .map(|drawn| {
            let (front_n, tail_n) = drawn.design_loads_n;
            Loads { front_n, tail_n }.balance_index(&drawn.pass.plow)
        })
        .collect();
    let count = |of: &dyn Fn(f64) -> bool| indices.iter().filter(|b| of(**b)).count();
    // Of 80 that are uniform from −1.1 to 1.1: 36 beyond 0.6 and 18 within 0.25 are expected.
    assert!(count(&|b| b > 0.6) >= 8 && count(&|b| b < -0.6) >= 8, "{indices:?}");
    assert!(count(&|b| b.abs() < 0.25) >= 8 && count(&|b| b.abs() > 1.0) >= 2, "{indices:?}");
    for share in [Share::Sharp, Share::Blunt, Share::Worn] {
        assert!(all.iter().filter(|drawn| drawn.pass.share == share).count() >= 15);
    }
    for bottoms in 1..=4 {
        assert!(all.iter().filter(|drawn| drawn.bottoms == bottoms).count() >= 4);
    }
    // Both modes live in some, and each of the two is the stronger one in some.
    let modes = all.iter().filter_map(|drawn| Linear::of_pass(&drawn.pass, 1.0).map(|l| (l, drawn)));
    let stronger: Vec<bool> = modes
        .filter_map(|(linear, drawn)| match linear.modes_in(&drawn.pass.field)[..] {
            [(_, slow_n), (_, fast_n)] => Some(fast_n > slow_n),
            _ => None,
        })
        .collect();
    let fast = stronger.iter().filter(|fast| **fast).count();
    assert!(fast >= 10 && stronger.len() - fast >= 10, "{fast} of {}", stronger.len());
}

#[test]
fn the_same_seed_draws_the_same_plow() {
    let draw = |seed| DrawnPlow::draw(&mut ChaCha8Rng::seed_from_u64(seed));
    assert_eq!(draw(5), draw(5));
    assert_ne!(draw(5), draw(6));
}
