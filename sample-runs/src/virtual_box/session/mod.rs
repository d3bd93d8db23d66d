//! The life of a virtual box from the opening of its port to its end.

mod orders;

use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use firmware_protocol::{Channel, Frame, Hello, Mark, MarkSource, Readings, Status};

use super::clock::BoxClock;
use super::damage::{Damage, Fate};
use super::outbox::Outbox;
use super::progress::{BoxReport, Progress};
use super::sampler::Sampler;
use super::script::{Script, ScriptedEvent};
use super::serial_line::{Link, SerialLine};
use super::speech::{Speech, channel_table, greeting};
use super::truth_file::{SampledRow, TruthFile};
use super::{BoxConfig, BoxError};

/// Boot number after the first power-up.
const FIRST_BOOT: u32 = 1;
/// Things that may be done before the line is looked after again: keeps the answer to a ping quick.
const BATCH: usize = 64;
/// Longest wait for the line, so that a wish to stop is soon seen.
const WAIT_MAX: Duration = Duration::from_millis(20);
/// For how long nothing must be unread before the host counts as having read everything: the kernel
/// hands bytes over by and by, and on a busy machine it can seem for a while that nothing is there.
const READ_UP_FOR: Duration = Duration::from_millis(250);

/// What the box does next, and nothing else: these are compared by their time.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Due {
    Row { pass_s: f64 },
    ScriptedEvent,
    Hello,
    Status,
    PassOver,
}

pub(super) struct Session {
    config: BoxConfig,
    progress: Arc<Progress>,
    clock: BoxClock,
    sampler: Sampler,
    damage: Damage,
    script: Script,
    /// Where a host found the port at the start.
    path: PathBuf,
    /// `None` while the cable is out.
    line: Option<SerialLine>,
    link: Option<Link>,
    speech: Speech,
    outbox: Outbox,
    truth_file: Option<TruthFile>,
    channels: Vec<Channel>,
    boot: u32,
    /// The host wants readings.
    sending: bool,
    /// Somebody has the port open.
    heard: bool,
    /// World time at second 0 of the pass, once it has begun.
    pass_begun_s: Option<f64>,
    next_hello_s: f64,
    next_status_s: f64,
    /// When the cable was pulled.
    unplugged: Option<Instant>,
    /// When the pass ended.
    over: Option<Instant>,
    /// The host said *stop* after the end.
    dismissed: bool,
    /// Since when, after the end, the host has been seen to have read everything.
    read_up: Option<Instant>,
    rows_dropped: u32,
    marks: u16,
    report: BoxReport,
}

impl Session {
    /// Opens the port; nothing is sent yet.
    pub(super) fn open(config: BoxConfig, progress: Arc<Progress>) -> Result<Self, BoxError> {
        config.check()?;
        let channels = channel_table(&config)?;
        // What does not fit is said before anything is made.
        greeting(&config, &channels, FIRST_BOOT, config.row_rate_mhz)?;
        let sampler = Sampler::new(&config)?;
        let link = config.link.as_deref().map(Link::new).transpose()?;
        let truth_file = config.truth_csv.as_deref().map(|path| TruthFile::create(path, &config.sensors));
        let truth_file = truth_file.transpose()?;
        let line = SerialLine::open_under(link.as_ref())?;
        let faults = &config.faults;
        Ok(Self {
            clock: BoxClock::new(config.speed_up, faults.clock_start_us, faults.drift_ppm),
            damage: Damage::new(faults, config.seed),
            script: Script::new(faults),
            speech: Speech::new(&config),
            config,
            progress,
            sampler,
            path: line.path(link.as_ref()),
            line: Some(line),
            link,
            outbox: Outbox::default(),
            truth_file,
            channels,
            boot: FIRST_BOOT,
            sending: false,
            heard: false,
            pass_begun_s: None,
            next_hello_s: 0.0,
            next_status_s: 1.0,
            unplugged: None,
            over: None,
            dismissed: false,
            read_up: None,
            rows_dropped: 0,
            marks: 0,
            report: BoxReport::default(),
        })
    }

    /// Where a host finds the port: the link if there is one.
    pub(super) fn path(&self) -> PathBuf {
        self.path.clone()
    }

    /// Runs until the pass is over and the host has gone, or until it is asked to stop.
    pub(super) fn run(mut self) -> Result<BoxReport, BoxError> {
        while !self.is_done() {
            let now_s = self.clock.now_s();
            for _ in 0..BATCH {
                match self.next_due() {
                    Some((due_s, due)) if due_s <= now_s && !self.outbox.is_full() => self.act(due_s, due)?,
                    _ => break,
                }
            }
            self.outbox.release(self.clock.now_s());
            self.exchange()?;
        }
        self.report.truth = self.sampler.truth();
        self.report.boots = self.boot + 1 - FIRST_BOOT;
        self.truth_file.as_mut().map_or(Ok(()), TruthFile::flush)?;
        Ok(self.report)
    }

    /// After the pass the box goes when the host has let it go or has read everything: closing the port
    /// earlier would take what is still unread.
    fn is_done(&self) -> bool {
        let lingered = self.over.is_some_and(|over| over.elapsed().as_secs_f64() >= self.config.linger_s);
        let let_go =
            self.dismissed || !self.heard || self.read_up.is_some_and(|since| since.elapsed() >= READ_UP_FOR);
        self.progress.stop.load(Ordering::Acquire)
            || lingered
            || (self.over.is_some() && self.outbox.is_empty() && let_go)
    }

    /// The next thing to do and its world time. After the pass the box falls silent, but for answers: what
    /// it said of itself would never be read up.
    fn next_due(&self) -> Option<(f64, Due)> {
        if self.over.is_some() {
            return None;
        }
        let in_pass = |pass_s: f64| self.pass_begun_s.map(|begun_s| begun_s + pass_s);
        let row = self.sampler.next_s(&self.clock).filter(|_| self.sending);
        let row = row.and_then(|pass_s| Some((in_pass(pass_s)?, Due::Row { pass_s })));
        let end_s = in_pass(self.config.pass.times.total_s());
        let event_s = self.script.next_s().and_then(in_pass);
        // Of things due at once the first goes first: a row at the very end comes before the end.
        [
            row,
            end_s.map(|s| (s, Due::PassOver)),
            event_s.map(|s| (s, Due::ScriptedEvent)),
            (!self.sending || self.speech.is_text()).then_some((self.next_hello_s, Due::Hello)),
            Some((self.next_status_s, Due::Status)),
        ]
        .into_iter()
        .flatten()
        .min_by(|a, b| a.0.total_cmp(&b.0))
    }

    fn act(&mut self, due_s: f64, due: Due) -> Result<(), BoxError> {
        match due {
            Due::Row { pass_s } => {
                self.sampler.sample(pass_s, self.boot, &self.clock);
                if self.sampler.is_full() { self.send_rows(due_s) } else { Ok(()) }
            }
            Due::ScriptedEvent => self.on_scripted_event(due_s),
            Due::Hello => {
                // Once a second by the box (a text box takes two), but a fast world must not fill the line with
                // greetings.
                let period_s = if self.speech.is_text() { 2.0 } else { 1.0 };
                self.next_hello_s = self.clock.now_s() + period_s * (0.1 * self.config.speed_up).max(1.0);
                let hello = self.hello()?;
                self.send(due_s, &Frame::Hello(hello));
                Ok(())
            }
            Due::Status => self.status(due_s),
            Due::PassOver => {
                self.send_rows(due_s)?;
                self.over = Some(Instant::now());
                self.progress.over.store(true, Ordering::Release);
                Ok(())
            }
        }
    }

    fn on_scripted_event(&mut self, due_s: f64) -> Result<(), BoxError> {
        match self.script.take().map(|(_, what)| what) {
            Some(ScriptedEvent::Unplug) => {
                self.line = None;
                self.heard = false;
                self.unplugged = Some(Instant::now());
                self.outbox.clear();
                self.speech.reset();
                self.link.iter().for_each(Link::remove);
            }
            Some(ScriptedEvent::Replug) => {
                // A box that lags behind its time must still keep the cable out for as long as promised.
                let out = self.unplugged.take().map_or(Duration::ZERO, |at| at.elapsed());
                let wanted = self.clock.wall(self.config.faults.unplug_for_s);
                std::thread::sleep(wanted.saturating_sub(out));
                self.line = Some(SerialLine::open_under(self.link.as_ref())?);
            }
            Some(ScriptedEvent::Reset) => {
                let lost = self.sampler.reboot();
                self.record(&lost, Fate::Reset)?;
                self.boot = self.boot.wrapping_add(1);
                self.clock.reboot(due_s);
                (self.sending, self.rows_dropped, self.marks) = (false, 0, 0);
                (self.next_hello_s, self.next_status_s) = (due_s, due_s + 1.0);
                self.speech.reset();
                if self.speech.is_text() {
                    self.start(due_s);
                }
            }
            Some(ScriptedEvent::Mark) => {
                self.marks = self.marks.wrapping_add(1);
                let clock_us = self.clock.stamp(self.clock.ticks_at(due_s));
                let mark = Mark { clock_us, source: MarkSource::Button, number: self.marks };
                self.send(due_s, &Frame::Mark(mark));
            }
            None => {}
        }
        Ok(())
    }

    fn status(&mut self, due_s: f64) -> Result<(), BoxError> {
        self.next_status_s = due_s + 1.0;
        // The cast wraps as the box's own 32-bit counter does.
        let uptime_ms = (self.clock.uptime_s(due_s) * 1000.0) as u64 as u32;
        let rows_dropped = self.rows_dropped;
        let status = Status { uptime_ms, rows_dropped, supply_mv: 12_300, temperature_centi_c: 1_850 };
        if !matches!(self.speech, Speech::PrintsOnly) {
            self.send(due_s, &Frame::Status(status));
        }
        self.truth_file.as_mut().map_or(Ok(()), TruthFile::flush)
    }

    /// Sends the rows that wait, full frame or not, and writes down what became of them.
    fn send_rows(&mut self, due_s: f64) -> Result<(), BoxError> {
        let Some((readings, rows)) = self.sampler.take_frame()? else { return Ok(()) };
        let drawn = self.damage.next_frame();
        let fate = match (&self.line, self.heard, drawn) {
            (None, ..) => Fate::Unplugged,
            (Some(_), false, _) => Fate::Nobody,
            (Some(_), true, drawn) => self.send_readings(due_s, &readings, drawn),
        };
        if fate == Fate::Dropped {
            // A frame has at most some dozens of rows.
            self.rows_dropped = self.rows_dropped.wrapping_add(rows.len() as u32);
        }
        self.record(&rows, fate)
    }

    fn send_readings(&mut self, due_s: f64, readings: &Readings, drawn: Fate) -> Fate {
        if drawn == Fate::Dropped {
            return drawn;
        }
        let frame = Frame::Readings(*readings);
        let damaged = self.send(due_s, &frame);
        if drawn == Fate::Doubled {
            // Any of the two that came through whole is enough.
            let damaged_too = self.send(due_s, &frame);
            return if damaged && damaged_too { Fate::Damaged } else { drawn };
        }
        if damaged { Fate::Damaged } else { drawn }
    }

    /// Puts a frame into the outbox and says whether bits of it were turned around.
    fn send(&mut self, due_s: f64, frame: &Frame) -> bool {
        if self.line.is_none() || !self.heard {
            return false;
        }
        let mut bytes = self.speech.bytes(frame);
        let damaged = self.damage.flip(&mut bytes);
        self.outbox.push(due_s + self.damage.delay_s(), &bytes);
        damaged
    }

    fn record(&mut self, rows: &[SampledRow], fate: Fate) -> Result<(), BoxError> {
        let count = rows.len() as u64;
        self.report.rows_sampled += count;
        if matches!(fate, Fate::Sent | Fate::Doubled) {
            self.report.rows_sent += count;
        }
        self.progress.rows.fetch_add(count, Ordering::Release);
        if let Some(file) = &mut self.truth_file {
            rows.iter().try_for_each(|row| file.row(row, fate))?;
        }
        Ok(())
    }

    /// Looks after the line until something is due.
    fn exchange(&mut self) -> Result<(), BoxError> {
        let next = [self.next_due().map(|due| due.0), self.outbox.next_s()];
        let next_s = next.into_iter().flatten().fold(f64::INFINITY, f64::min);
        let mut wait = self.clock.wall(next_s - self.clock.now_s()).min(WAIT_MAX);
        if self.outbox.is_full() {
            wait = WAIT_MAX; // only the host can go on now
        }
        let Some(line) = &self.line else {
            std::thread::sleep(wait);
            return Ok(());
        };
        let ready = line.wait(self.heard, !self.outbox.ready().is_empty(), wait)?;
        if self.over.is_some() {
            let read_up = self.outbox.is_empty() && line.unread() == Some(0);
            self.read_up = if read_up { self.read_up.or_else(|| Some(Instant::now())) } else { None };
        }
        self.hear(!ready.nobody);
        if ready.writable {
            self.write()?;
        }
        if ready.readable { self.read() } else { Ok(()) }
    }

    /// Somebody opens the port, or the last one closes it.
    fn hear(&mut self, heard: bool) {
        if heard && !self.heard {
            self.next_hello_s = self.clock.now_s();
            if self.speech.is_text() && self.pass_begun_s.is_none() {
                self.start(self.next_hello_s);
            }
        }
        if !heard && self.heard {
            self.outbox.clear();
            self.speech.reset();
        }
        self.heard = heard;
    }

    fn write(&mut self) -> Result<(), BoxError> {
        let Some(line) = &self.line else { return Ok(()) };
        let took = line.write(self.outbox.ready())?;
        self.outbox.took(took);
        Ok(())
    }

    fn hello(&self) -> Result<Hello, BoxError> {
        greeting(&self.config, &self.channels, self.boot, self.sampler.row_rate_mhz)
    }
}
