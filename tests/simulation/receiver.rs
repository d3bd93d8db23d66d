//! A GNSS receiver on a moving plow in simulated time, and what it knows of each of its epochs.

use std::sync::{Arc, Mutex};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use tokio::io::{AsyncWriteExt, DuplexStream};
use tokio::sync::mpsc;
use tokio::time::{Duration, Instant, sleep_until, timeout};

use crate::plan::{ReceiverFault, ReceiverPlan};
use crate::world::Plug;

/// What became of an epoch's sentences.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Came {
    Whole,
    /// Some of them were damaged, or cut off.
    InPart,
    Not,
}

/// One moment as the receiver knows it.
#[derive(Clone, Copy, Debug)]
pub struct TrueEpoch {
    /// By the clock that never sleeps, in s.
    pub t_s: f64,
    pub has_fix: bool,
    pub came: Came,
    /// Latitude, longitude, speed and course, as in the columns of `gnss.csv`.
    pub reading: [f64; 4],
}

pub type SharedEpochs = Arc<Mutex<Vec<TrueEpoch>>>;

/// Where the plow is: about 1.6 m/s on a course of about 80°, from a point in the middle of an ocean.
fn reading_at(t_s: f64) -> [f64; 4] {
    let way_m = 1.6 * t_s + 0.3 * 7.0 * (1.0 - (t_s / 7.0).cos());
    let (lat_deg, lon_deg) = (30.0 + way_m * 1.57e-6, -40.0 + way_m * 1.02e-5);
    [lat_deg, lon_deg, 1.6 + 0.3 * (t_s / 7.0).sin(), 80.0 + 5.0 * (t_s / 11.0).sin()]
}

fn sentence(body: &str) -> Vec<u8> {
    let checksum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{checksum:02X}\r\n").into_bytes()
}

/// Degrees and minutes, to 1.8 cm.
fn degrees_minutes(degrees: f64, digits: usize) -> String {
    let minutes_e5 = (degrees.abs() * 60e5).round() as u64;
    let (whole, rest) = (minutes_e5 / 6_000_000, minutes_e5 % 6_000_000);
    format!("{whole:0digits$}{:02}.{:05}", rest / 100_000, rest % 100_000)
}

/// All sentences of an epoch, `t_s` after noon.
fn sentences(plan: &ReceiverPlan, epoch: &TrueEpoch) -> Vec<Vec<u8>> {
    let hundredths = (epoch.t_s * 100.0).round() as u64 + 4_320_000;
    let (second, part) = (hundredths / 100 % 86_400, hundredths % 100);
    let time = format!("{:02}{:02}{:02}.{part:02}", second / 3600, second / 60 % 60, second % 60);
    let [lat_deg, lon_deg, speed_mps, course_deg] = epoch.reading;
    let (knots, kmh) = (speed_mps * 3600.0 / 1852.0, speed_mps * 3.6);
    let place = format!("{},N,{},W", degrees_minutes(lat_deg, 2), degrees_minutes(lon_deg, 3));
    let mut all = Vec::new();
    let mut say = |body: String| all.push(sentence(&body));
    let fix = epoch.has_fix;
    if plan.sends_gga_and_vtg {
        say(if fix {
            format!("GNGGA,{time},{place},1,09,0.9,12.0,M,46.9,M,,")
        } else {
            format!("GNGGA,{time},,,,,0,00,99.9,,,,,,")
        });
        say(if fix {
            format!("GNVTG,{course_deg:.2},T,,M,{knots:.3},N,{kmh:.3},K,A")
        } else {
            "GNVTG,,,,,,,,,N".to_owned()
        });
    }
    if plan.sends_rmc {
        say(if fix {
            format!("GNRMC,{time},A,{place},{knots:.3},{course_deg:.2},110427,,,A")
        } else {
            format!("GNRMC,{time},V,,,,,,,110427,,,N")
        });
    }
    // Of no use to anybody here.
    say("GNGSA,A,3,04,05,,09,12,,,24,,,,,2.5,1.3,2.1".to_owned());
    all
}

pub struct Receiver {
    plan: ReceiverPlan,
    rng: ChaCha8Rng,
    began: Instant,
    sleeps: Vec<(f64, f64)>,
    plug: Plug,
    calls: mpsc::UnboundedReceiver<DuplexStream>,
    link: Option<DuplexStream>,
    known: SharedEpochs,
    /// By how much the computer's clock has fallen behind by now.
    slept_s: f64,
    next_epoch: u64,
    next_fault: usize,
    replug_s: Option<f64>,
    no_fix_until_s: f64,
    silent_until_s: f64,
    noise: Vec<u8>,
}

impl Receiver {
    pub fn new(
        seed: u64,
        (plan, sleeps): (ReceiverPlan, Vec<(f64, f64)>),
        plug: Plug,
        calls: mpsc::UnboundedReceiver<DuplexStream>,
        known: SharedEpochs,
    ) -> Self {
        Self {
            plan,
            rng: ChaCha8Rng::seed_from_u64(seed ^ 0x6A55),
            began: Instant::now(),
            sleeps,
            plug,
            calls,
            link: None,
            known,
            slept_s: 0.0,
            next_epoch: 0,
            next_fault: 0,
            replug_s: None,
            no_fix_until_s: 0.0,
            silent_until_s: 0.0,
            noise: Vec::new(),
        }
    }

    /// Runs until the world ends.
    pub async fn run(mut self) {
        loop {
            let t_s = self.next_epoch as f64 / f64::from(self.plan.rate_hz);
            let late_ms = self.plan.latency_ms + self.plan.jitter_ms * self.rng.random::<f64>();
            let due_s = t_s + 1e-3 * late_ms;
            self.wait_until(due_s).await;
            self.next_epoch += 1;
            self.epoch(t_s).await;
        }
    }

    /// Waits until its own clock shows so much, which a sleep of the computer brings forward; faults happen meanwhile.
    async fn wait_until(&mut self, due_s: f64) {
        loop {
            let host_s = self.began.elapsed().as_secs_f64();
            let asleep = self.sleeps.iter().filter(|(at_s, _)| *at_s <= host_s);
            self.slept_s = asleep.map(|(_, for_s)| for_s).sum();
            while let Some((_, fault)) =
                self.plan.faults.get(self.next_fault).copied().filter(|(at_s, _)| *at_s <= host_s)
            {
                self.next_fault += 1;
                self.fault(host_s, fault);
            }
            if self.replug_s.take_if(|at_s| *at_s <= host_s).is_some() {
                self.plug.set(true);
            }
            let due_host_s = due_s - self.slept_s;
            if due_host_s <= host_s {
                return;
            }
            let next_sleep = self.sleeps.iter().map(|(at_s, _)| *at_s).find(|at_s| *at_s > host_s);
            let next_fault = self.plan.faults.get(self.next_fault).map(|(at_s, _)| *at_s);
            let next = [next_sleep, next_fault, self.replug_s].into_iter().flatten();
            // The clock of the simulation goes in ms.
            let wake_s = next.fold(due_host_s, f64::min).max(host_s + 1e-3);
            tokio::select! {
                biased;
                Some(link) = self.calls.recv() => self.link = Some(link),
                () = sleep_until(self.began + Duration::from_secs_f64(wake_s)) => {}
            }
        }
    }

    fn fault(&mut self, host_s: f64, fault: ReceiverFault) {
        match fault {
            ReceiverFault::Unplugged(for_s) => {
                self.plug.set(false);
                self.link = None;
                self.replug_s = Some(host_s + for_s);
            }
            ReceiverFault::NoFix(for_s) => self.no_fix_until_s = host_s + for_s,
            ReceiverFault::Silent(for_s) => self.silent_until_s = host_s + for_s,
            ReceiverFault::Noise(bytes) => {
                self.noise = (0..bytes).map(|_| self.rng.random()).collect();
                // Noise that would begin a sentence is another fault.
                self.noise.retain(|byte| *byte != b'$');
            }
        }
    }

    async fn epoch(&mut self, t_s: f64) {
        let host_s = self.began.elapsed().as_secs_f64();
        let has_fix = host_s >= self.no_fix_until_s;
        let mut epoch = TrueEpoch { t_s, has_fix, came: Came::Not, reading: reading_at(t_s) };
        // What was due while the computer slept is lost.
        let late_s = host_s + self.slept_s - t_s - 1e-3 * (self.plan.latency_ms + self.plan.jitter_ms);
        if host_s >= self.silent_until_s && late_s < 0.1 {
            let mut all = sentences(&self.plan, &epoch);
            epoch.came = Came::Whole;
            if self.rng.random_bool(self.plan.damaged) {
                epoch.came = Came::InPart;
                let of = self.rng.random_range(0..all.len());
                let at = self.rng.random_range(0..all[of].len());
                all[of][at] ^= 1 << self.rng.random_range(0..7);
            }
            if !self.noise.is_empty() {
                epoch.came = Came::InPart;
                all.insert(0, std::mem::take(&mut self.noise));
            }
            for bytes in all {
                let Some(link) = &mut self.link else {
                    epoch.came = Came::Not;
                    break;
                };
                if !matches!(timeout(Duration::from_secs(1), link.write_all(&bytes)).await, Ok(Ok(()))) {
                    self.link = None;
                    epoch.came = Came::Not;
                    break;
                }
            }
        }
        self.known.lock().unwrap().push(epoch);
    }
}
