//! A sensor box in simulated time, and what it knows: every row that it sampled and what became of it.

mod counts;
mod line;

use std::collections::VecDeque;
use std::sync::{Arc, Mutex};

use firmware_protocol::{
    Channel, Form, Frame, Hello, Label, Mark, MarkSource, PortDecoder, Readings, Status,
};
use held::truth::{Fate, TrueRow};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use sample_runs::sensors::Sensor;
use tokio::io::DuplexStream;
use tokio::sync::mpsc;
use tokio::time::{Duration, Instant, sleep_until};

use crate::plan::{BoxFault, BoxPlan, Plan};
use crate::world::Plug;
use counts::{Plow, counts_of};
use line::read_from;

pub const SENSORS: [Sensor; 6] = {
    let [pull, tail, depth, front_load, pitch] = Sensor::ALL;
    [pull, tail, depth, front_load, pitch, Sensor::ENGINE_SPEED]
};
/// The place in [`SENSORS`] of a channel of the user's own.
pub const OWN: usize = 5;

/// What a box knows.
#[derive(Clone, Debug, Default)]
pub struct Known {
    pub rows: Vec<TrueRow>,
    /// When it said something whole that is no row which can be taken, in s by the computer's clock.
    pub words_s: Vec<f64>,
}

/// Shared with the judge.
pub type SharedKnown = Arc<Mutex<Known>>;

/// What is on its way.
struct OnTheWay {
    due_s: f64,
    bytes: Vec<u8>,
    is_word: bool,
    /// Boot and first number of the rows in it.
    rows: Option<(u32, u32)>,
}

#[derive(Clone, Copy, Debug, Default)]
struct Until {
    silent_s: f64,
    no_rows_s: f64,
    wrong_rows_s: f64,
}

pub struct SensorBox {
    plan: BoxPlan,
    seed: u64,
    name: String,
    channels: Vec<usize>,
    rng: ChaCha8Rng,
    began: Instant,
    /// When the computer goes to sleep, by its own clock, and for how long by that of everybody else, in s.
    sleeps: Vec<(f64, f64)>,
    next_sleep: usize,
    /// When the plow is in the ground.
    passes: Vec<(f64, f64)>,
    /// By how much the computer's monotonic clock has fallen behind by now.
    slept_s: f64,
    /// The computer sleeps: what is said is lost.
    is_unheard: bool,
    plug: Plug,
    calls: mpsc::UnboundedReceiver<DuplexStream>,
    link: Option<DuplexStream>,
    heard: PortDecoder,
    known: SharedKnown,
    boot: u32,
    boot_at_s: f64,
    /// Box clock at the first row since the last start, and that row's number; `None` while it stands still.
    sampling: Option<(u64, u32)>,
    next_row: u32,
    waiting: Vec<TrueRow>,
    next_hello_s: f64,
    next_status_s: f64,
    next_fault: usize,
    replug_s: Option<f64>,
    until: Until,
    marks: u16,
    /// What is on its way, in order.
    outbox: VecDeque<OnTheWay>,
    /// The end of the last frame was damaged, so the next one is no frame.
    runs_into_next: bool,
}

impl SensorBox {
    pub fn new(
        (number, plan): (usize, &Plan),
        channels: Vec<usize>,
        plug: Plug,
        calls: mpsc::UnboundedReceiver<DuplexStream>,
        known: SharedKnown,
    ) -> Self {
        let Plan { sleeps, passes, .. } = plan.clone();
        let seed = plan.seed.wrapping_mul(31).wrapping_add(number as u64);
        let plan = plan.boxes[number].clone();
        let printing = plan.form == Form::Text;
        Self {
            rng: ChaCha8Rng::seed_from_u64(seed ^ 0xB0C5),
            seed,
            name: format!("box-{number}"),
            channels,
            began: Instant::now(),
            sleeps,
            next_sleep: 0,
            passes,
            slept_s: 0.0,
            is_unheard: false,
            plug,
            calls,
            link: None,
            heard: PortDecoder::new(),
            known,
            boot: 1,
            boot_at_s: 0.0,
            sampling: printing.then_some((0, 0)),
            next_row: 0,
            waiting: Vec::new(),
            next_hello_s: 0.0,
            next_status_s: 1.0,
            next_fault: 0,
            replug_s: None,
            until: Until::default(),
            marks: 0,
            outbox: VecDeque::new(),
            runs_into_next: false,
            plan,
        }
    }

    /// By the computer's clock.
    fn host_s(&self) -> f64 {
        self.began.elapsed().as_secs_f64()
    }

    /// By the box's clock, which never sleeps.
    fn now_s(&self) -> f64 {
        self.host_s() + self.slept_s
    }

    fn prints(&self) -> bool {
        self.plan.form == Form::Text
    }

    fn us_per_s(&self) -> f64 {
        1e6 * (1.0 + self.plan.drift_ppm * 1e-6)
    }

    fn ticks(&self, at_s: f64) -> u64 {
        ((at_s - self.boot_at_s) * self.us_per_s()) as u64
    }

    fn clock_us(&self, ticks: u64) -> u32 {
        self.plan.clock_start_us.wrapping_add(ticks as u32)
    }

    fn interval_us(&self) -> u32 {
        1_000_000_000 / self.plan.rate_mhz
    }

    fn next_row_s(&self) -> Option<f64> {
        let (first_ticks, first_row) = self.sampling?;
        let since = u64::from(self.next_row.wrapping_sub(first_row)) * u64::from(self.interval_us());
        Some(self.boot_at_s + (first_ticks + since) as f64 / self.us_per_s())
    }

    /// Runs until the world ends.
    pub async fn run(mut self) {
        let mut buffer = [0; 512];
        loop {
            self.act();
            self.send_what_is_due().await;
            let due = self.began + Duration::from_secs_f64((self.next_due_s() - self.slept_s).max(0.0));
            tokio::select! {
                biased;
                link = self.calls.recv() => match link {
                    Some(link) => {
                        self.link = Some(link);
                        self.heard.reset();
                    }
                    None => return,
                },
                read = read_from(&mut self.link, &mut buffer) => match read {
                    0 => self.link = None,
                    length => self.hear(&buffer[..length]),
                },
                () = sleep_until(due) => {}
            }
        }
    }

    fn next_due_s(&self) -> f64 {
        let fault = self.plan.faults.get(self.next_fault).map(|(at_s, _)| at_s + self.slept_s);
        let sleep = self.sleeps.get(self.next_sleep).map(|(at_s, _)| at_s + self.slept_s);
        let sent = self.outbox.front().map(|first| first.due_s);
        // The row that fills the frame is the next to wake up for.
        let row = self.next_row_s().map(|next_s| {
            let more = self.plan.rows_per_frame.saturating_sub(self.waiting.len() + 1) as f64;
            next_s + more * f64::from(self.interval_us()) / self.us_per_s()
        });
        [row, fault, sleep, sent, self.replug_s, Some(self.next_hello_s), Some(self.next_status_s)]
            .into_iter()
            .flatten()
            .fold(f64::INFINITY, f64::min)
            // The clock of the simulation goes in ms.
            .max(self.now_s() + 1e-3)
    }

    fn act(&mut self) {
        let host_s = self.host_s();
        while let Some((at_s, for_s)) =
            self.sleeps.get(self.next_sleep).copied().filter(|due| due.0 <= host_s)
        {
            self.next_sleep += 1;
            self.sample(at_s + self.slept_s);
            self.slept_s += for_s;
            self.is_unheard = true;
            self.sample(at_s + self.slept_s);
            self.is_unheard = false;
        }
        let now_s = self.now_s();
        while let Some((at_s, fault)) =
            self.plan.faults.get(self.next_fault).copied().filter(|due| due.0 <= host_s)
        {
            self.next_fault += 1;
            let at_s = at_s + self.slept_s;
            self.sample(at_s);
            self.fault(at_s, fault);
        }
        if self.replug_s.take_if(|at_s| *at_s <= now_s).is_some() {
            self.plug.set(true);
        }
        self.sample(now_s);
        if self.next_hello_s <= now_s {
            self.next_hello_s = now_s + if self.prints() { 2.0 } else { 1.0 };
            if self.prints() || self.sampling.is_none() {
                self.hello();
            }
        }
        if self.next_status_s <= now_s {
            self.next_status_s = now_s + 1.0;
            let uptime_ms = (self.ticks(now_s) / 1000) as u32;
            self.say(
                &Frame::Status(Status { uptime_ms, rows_dropped: 0, supply_mv: 0, temperature_centi_c: 0 }),
                true,
            );
        }
    }

    fn fault(&mut self, at_s: f64, fault: BoxFault) {
        match fault {
            BoxFault::Unplugged(for_s) => {
                self.plug.set(false);
                self.link = None;
                let lost = std::mem::take(&mut self.outbox);
                lost.iter().for_each(|lost| self.lose(lost));
                self.replug_s = Some(at_s + for_s);
            }
            BoxFault::Reset => {
                let lost = std::mem::take(&mut self.waiting);
                self.know(lost, Fate::Lost);
                self.boot += 1;
                (self.boot_at_s, self.next_row, self.marks) = (at_s, 0, 0);
                self.sampling = self.prints().then_some((0, 0));
                self.heard.reset();
                (self.next_hello_s, self.next_status_s) = (at_s, at_s + 1.0);
                if self.prints() && self.plan.counts_boots {
                    // Before the first row.
                    self.next_hello_s += 2.0;
                    self.hello();
                }
            }
            BoxFault::Silent(for_s) => self.until.silent_s = at_s + for_s,
            BoxFault::NoRows(for_s) => self.until.no_rows_s = at_s + for_s,
            BoxFault::WrongRows(for_s) => self.until.wrong_rows_s = at_s + for_s,
            BoxFault::Noise(bytes) => {
                let mut noise: Vec<u8> = (0..bytes).map(|_| self.rng.random()).collect();
                if self.prints() {
                    // Noise that would be a sentence is another fault.
                    noise.retain(|byte| *byte != b'$');
                }
                // What has no end of its own runs into what comes after it.
                self.runs_into_next = !self.prints() && noise.last() != Some(&0);
                self.outbox.push_back(OnTheWay { due_s: at_s, bytes: noise, is_word: false, rows: None });
            }
            BoxFault::Mark => {
                self.marks += 1;
                let clock_us = self.clock_us(self.ticks(at_s));
                self.say(
                    &Frame::Mark(Mark { clock_us, source: MarkSource::Button, number: self.marks }),
                    true,
                );
            }
        }
    }

    fn plow_at(&self, at_s: f64) -> Option<Plow> {
        let is_in = self.passes.iter().any(|(from_s, to_s)| (*from_s..*to_s).contains(&at_s));
        (!self.passes.is_empty()).then_some(if is_in { Plow::InGround } else { Plow::Lifted })
    }

    /// Samples all rows that are due, and sends the frames that they fill.
    fn sample(&mut self, until_s: f64) {
        while let Some(row_s) = self.next_row_s().filter(|row_s| *row_s <= until_s) {
            let (boot, number) = (self.boot, self.next_row);
            let counts = counts_of(self.seed, boot, number, &self.channels, self.plow_at(row_s));
            self.waiting.push(TrueRow {
                boot,
                number,
                fate: Fate::Lost,
                t_s: row_s,
                host_s: row_s - self.slept_s,
                counts,
            });
            self.next_row = self.next_row.wrapping_add(1);
            if self.waiting.len() >= self.plan.rows_per_frame {
                self.send_rows(row_s);
            }
        }
    }

    fn send_rows(&mut self, now_s: f64) {
        let rows = std::mem::take(&mut self.waiting);
        let Some(first) = rows.first() else { return };
        let wrong = now_s < self.until.wrong_rows_s;
        let channels = self.channels.len() + usize::from(wrong);
        let counts: Vec<i32> =
            rows.iter().flat_map(|row| row.counts.iter().copied().chain(wrong.then_some(7))).collect();
        let clock_us = self.clock_us(self.ticks_of_row(first.number));
        let readings = Readings::new(first.number, clock_us, self.interval_us(), channels, &counts).unwrap();
        let kept_back = now_s < self.until.no_rows_s || self.rng.random_bool(self.plan.dropped);
        let sent = !kept_back && self.say(&Frame::Readings(readings), wrong);
        self.know(rows, if sent && !wrong { Fate::Sent } else { Fate::Lost });
    }

    fn ticks_of_row(&self, row: u32) -> u64 {
        let (first_ticks, first_row) = self.sampling.unwrap_or_default();
        first_ticks + u64::from(row.wrapping_sub(first_row)) * u64::from(self.interval_us())
    }

    fn know(&self, mut rows: Vec<TrueRow>, fate: Fate) {
        rows.iter_mut().for_each(|row| row.fate = fate);
        self.known.lock().unwrap().rows.append(&mut rows);
    }

    /// What was on its way did not get out: nor did its rows.
    fn lose(&self, lost: &OnTheWay) {
        let Some((boot, first)) = lost.rows else { return };
        let known = &mut self.known.lock().unwrap().rows;
        let later = known.iter_mut().rev().take_while(|row| (row.boot, row.number) >= (boot, first));
        let frame = first..first + self.plan.rows_per_frame as u32;
        later
            .filter(|row| row.boot == boot && frame.contains(&row.number))
            .for_each(|row| row.fate = Fate::Lost);
    }

    fn hello(&mut self) {
        let channel = |at: &usize| Channel {
            name: Label::new(SENSORS[*at].channel).unwrap(),
            kind: SENSORS[*at].kind,
            adc_bits: SENSORS[*at].adc_bits,
            rate_mhz: self.plan.rate_mhz,
        };
        let table: Vec<Channel> = self.channels.iter().map(channel).collect();
        let boot = if self.plan.counts_boots { self.boot } else { 0 };
        let (serial, name) = (Label::new(&self.name).unwrap(), Label::new(&self.name).unwrap());
        let hello = Hello::new(boot, (1, 0, 0), self.plan.rate_mhz, serial, name, &table).unwrap();
        self.say(&Frame::Hello(hello), true);
    }
}
