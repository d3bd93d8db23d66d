//! What happens to a recorder that stands by, drawn from a seed.

use ingest::recorder::Begin;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::plan::{Ending, Plan};

/// Worlds of these seeds and above have receivers, disks that fail, clocks that step, sleeps and power cuts in them, and plows that
/// begin and end the runs.
pub const WIDE_SEEDS: u64 = 1 << 62;

/// A world with a recorder that stands by in it.
#[derive(Clone, Debug)]
pub struct Stand {
    pub plan: Plan,
    pub begin: Begin,
    /// When runs are asked for and stopped by a person, in s.
    pub wishes: Vec<(f64, f64)>,
    /// Nothing is wrong with disk and clocks, and the computer does not sleep.
    pub is_calm: bool,
    /// Nothing happens to boxes, a receiver and cables.
    pub is_faultless: bool,
}

impl Stand {
    pub fn of_seed(seed: u64) -> Self {
        let mut plan = Plan::of_seed(seed);
        let lasts_s = plan.lasts_s.clamp(60.0, 200.0);
        let is_wide = seed >= WIDE_SEEDS;
        if !is_wide {
            plan.receiver = None;
            (plan.ending, plan.cut_after_end) = (Ending::Signal, false);
        }
        let is_calm = !is_wide || seed.is_multiple_of(8);
        if is_calm {
            (plan.disk, plan.folder_gone_s, plan.clock_steps, plan.sleeps) = Default::default();
        } else {
            squeeze(&mut plan, lasts_s);
        }
        plan.lasts_s = lasts_s;
        // Every other world has boxes with which nothing is wrong.
        if seed.is_multiple_of(2) {
            plan.boxes.iter_mut().for_each(|one| one.faults.clear());
            plan.receiver.iter_mut().for_each(|receiver| receiver.faults.clear());
        }
        let by_plow = is_wide && seed.is_multiple_of(3);
        if by_plow {
            plan.passes = passes_of(&plan);
        }
        let by_person = !by_plow || seed.is_multiple_of(5);
        Self {
            begin: if by_plow { Begin::WhenInGround } else { Begin::OnStart },
            wishes: if by_person { wishes_of(&plan) } else { Vec::new() },
            is_calm,
            is_faultless: plan.boxes.iter().all(|one| one.faults.is_empty()),
            plan,
        }
    }
}

/// What happens to the computer in a long world happens in a short one.
fn squeeze(plan: &mut Plan, lasts_s: f64) {
    let share = (lasts_s / plan.lasts_s).min(1.0);
    for trouble in &mut plan.disk {
        let for_s = trouble.until_s - trouble.from_s;
        trouble.from_s *= share;
        trouble.until_s = trouble.from_s + for_s;
    }
    plan.folder_gone_s.iter_mut().for_each(|at_s| *at_s *= share);
    plan.clock_steps.iter_mut().chain(&mut plan.sleeps).for_each(|(at_s, _)| *at_s *= share);
}

/// When runs are asked for and stopped, in s.
fn wishes_of(plan: &Plan) -> Vec<(f64, f64)> {
    let mut rng = ChaCha8Rng::seed_from_u64(plan.seed ^ 0x57A9);
    let mut runs = Vec::new();
    let mut at_s = rng.random_range(7.0..20.0);
    while at_s + 4.0 < plan.lasts_s {
        let stop_s = at_s + rng.random_range(1.0..40.0);
        runs.push((at_s, stop_s.min(plan.lasts_s - 1.0)));
        at_s = stop_s + rng.random_range(0.5..30.0);
    }
    runs
}

/// When the plow is in the ground, in s by the boxes' clock; some of it too short to be a pass.
fn passes_of(plan: &Plan) -> Vec<(f64, f64)> {
    let mut rng = ChaCha8Rng::seed_from_u64(plan.seed ^ 0x9A55);
    let mut passes = Vec::new();
    let mut in_s = rng.random_range(5.0..20.0);
    while in_s + 4.0 < plan.lasts_s {
        let out_s = in_s + if rng.random_bool(0.2) { 0.7 } else { rng.random_range(4.0..40.0) };
        passes.push((in_s, out_s));
        in_s = out_s + rng.random_range(4.0..30.0);
    }
    passes
}
