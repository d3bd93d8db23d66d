//! Totals over worlds, by the row rate of the fastest box in each.

use std::collections::BTreeMap;
use std::fmt;
use std::panic::{AssertUnwindSafe, catch_unwind};

use crate::disk::DiskFault;
use crate::judge::{Seen, judge};
use crate::plan::{BoxFault, Ending, Plan, ReceiverFault};
use crate::world;

#[derive(Clone, Copy, Debug, Default)]
struct OfRate {
    worlds: usize,
    hours: f64,
    /// By all boxes together.
    box_hours: f64,
    seen: Seen,
}

/// How often each fault was tried.
#[derive(Debug, Default)]
pub struct Tried(BTreeMap<&'static str, usize>);

impl Tried {
    pub fn add(&mut self, plan: &Plan) {
        faults(plan).into_iter().for_each(|fault| *self.0.entry(fault).or_default() += 1);
    }
}

impl fmt::Display for Tried {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let times: Vec<String> = self.0.iter().map(|(fault, times)| format!("{fault} {times}")).collect();
        f.write_str(&times.join(", "))
    }
}

/// What was seen so far.
#[derive(Debug, Default)]
pub struct Sum {
    /// By row rate, in mHz.
    by_rate: BTreeMap<u32, OfRate>,
    /// In worlds that are right.
    tried: Tried,
    /// What is not as it should be, each with the command to see it again.
    pub failed: Vec<String>,
}

impl Sum {
    /// Lets the world of a seed go by, and says so if it is not as it should be.
    pub fn add(&mut self, seed: u64) {
        let plan = Plan::of_seed(seed);
        let judged = catch_unwind(AssertUnwindSafe(|| judge(&plan, &world::let_go_by(&plan))));
        match judged.unwrap_or_else(|_| Err("panicked".to_owned())) {
            Ok(seen) => {
                let rate_mhz = plan.boxes.iter().map(|one| one.rate_mhz).max().unwrap_or(0);
                let of_rate = self.by_rate.entry(rate_mhz).or_default();
                of_rate.worlds += 1;
                of_rate.hours += plan.lasts_s / 3600.0;
                of_rate.box_hours += plan.boxes.len() as f64 * plan.lasts_s / 3600.0;
                of_rate.seen.add(seen);
                self.tried.add(&plan);
            }
            Err(why) => {
                let failed =
                    format!("{why}\n    SEED={seed} cargo test --test simulation one_seed -- --nocapture");
                println!("  NOT RIGHT: {failed}");
                self.failed.push(failed);
            }
        }
    }

    /// How many worlds there were.
    pub fn worlds(&self) -> usize {
        self.by_rate.values().map(|of_rate| of_rate.worlds).sum::<usize>() + self.failed.len()
    }

    /// Rows written, and counted as lost.
    pub fn rows(&self) -> (usize, usize) {
        let sum = |of: fn(&Seen) -> usize| self.by_rate.values().map(|of_rate| of(&of_rate.seen)).sum();
        (sum(|seen| seen.rows_written), sum(|seen| seen.rows_lost))
    }

    /// Prints all of it.
    pub fn say(&self) {
        let (written, lost) = self.rows();
        let hours: f64 = self.by_rate.values().map(|of_rate| of_rate.hours).sum();
        println!(
            "{} worlds, {hours:.1} h: {written} rows written, {lost} counted as lost; {} worlds are not right",
            self.worlds(),
            self.failed.len()
        );
        for (rate_mhz, OfRate { worlds, hours, box_hours, seen }) in &self.by_rate {
            println!(
                "  fastest box at {:4} Hz: {worlds:5} worlds, {hours:8.1} h ({box_hours:8.1} h of boxes), \
                 {:10} rows written, {:8} lost, {:4} power cuts repaired, {:6} fixes",
                f64::from(*rate_mhz) / 1e3,
                seen.rows_written,
                seen.rows_lost,
                seen.repaired,
                seen.fixes
            );
        }
        println!("  tried: {}", self.tried);
    }
}

/// What goes wrong in a world, one name a time.
fn faults(plan: &Plan) -> Vec<&'static str> {
    let mut all = Vec::new();
    let mut if_so = |so: bool, name| all.extend(so.then_some(name));
    // A world may be over before.
    let comes = |at_s: f64| at_s < plan.lasts_s;
    for own in &plan.boxes {
        for (_, fault) in own.faults.iter().filter(|(at_s, _)| comes(*at_s)) {
            let name = match fault {
                BoxFault::Unplugged(_) => "cable pulled",
                BoxFault::Reset => "reset",
                BoxFault::Silent(_) => "silent box",
                BoxFault::NoRows(_) => "no rows",
                BoxFault::WrongRows(_) => "rows of another width",
                BoxFault::Noise(_) => "noise",
                BoxFault::Mark => continue,
            };
            if_so(true, name);
        }
        if_so(own.dropped > 0.0, "line that drops");
        if_so(own.doubled > 0.0, "line that doubles");
        if_so(own.flipped_bits > 0.0, "line that flips bits");
        let until_wrap_s = f64::from(u32::MAX - own.clock_start_us) * 1e-6;
        if_so(until_wrap_s < plan.lasts_s, "wrap of a box's clock");
    }
    if_so(plan.boxes.len() > 1, "several boxes");
    if_so(plan.own.is_some(), "channel of the user's own");
    let of_receiver = plan.receiver.iter().flat_map(|receiver| &receiver.faults);
    for (_, fault) in of_receiver.filter(|(at_s, _)| comes(*at_s)) {
        let name = match fault {
            ReceiverFault::Unplugged(_) => "receiver's cable pulled",
            ReceiverFault::NoFix(_) => "no fix",
            ReceiverFault::Silent(_) => "silent receiver",
            ReceiverFault::Noise(_) => "noise at the receiver",
        };
        if_so(true, name);
    }
    for trouble in plan.disk.iter().filter(|trouble| comes(trouble.from_s)) {
        let name = match trouble.fault {
            DiskFault::Full => "disk full",
            DiskFault::Stalls => "disk stalls",
            DiskFault::SyncFails => "sync fails",
            DiskFault::Lies => "disk lies",
        };
        if_so(true, name);
    }
    plan.folder_gone_s.iter().for_each(|_| if_so(true, "folder gone"));
    plan.clock_steps.iter().for_each(|_| if_so(true, "wall clock set"));
    plan.sleeps.iter().for_each(|_| if_so(true, "computer sleeps"));
    if_so(plan.ending == Ending::PowerCut || plan.cut_after_end, "power cut");
    all
}
