//! The life of a virtual receiver from the opening of its port to its end.

use std::fs::File;
use std::io::Write;
use std::path::PathBuf;
use std::time::{Duration, Instant};

use super::sentences::{Epoch, sentence, time};
use super::track::{COURSE_DEG, SpeedProfile, Track};
use super::{ReceiverConfig, ReceiverError};
use crate::virtual_box::Faults;
use crate::virtual_box::damage::Damage;
use crate::virtual_box::serial_line::{Link, SerialLine};

/// Longest wait for the line.
const WAIT_MAX: Duration = Duration::from_millis(20);
/// After it has fallen silent it stays on the port at most this long for a host that stays, too.
const LINGER: Duration = Duration::from_secs(30);
/// What a host that does not read may let pile up, in bytes.
const UNREAD_BYTES_MAX: usize = 64 * 1024;

/// What a receiver did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct ReceiverReport {
    /// Epochs that went onto the line.
    pub epochs_sent: u64,
    /// Sentences that went onto the line.
    pub sentences: u64,
    /// Those of them that were damaged.
    pub damaged: u64,
    /// Bytes that came from the host, which should send none.
    pub bytes_from_host: u64,
}

/// A receiver whose port is open.
#[derive(Debug)]
pub struct ReceiverSession {
    config: ReceiverConfig,
    profile: SpeedProfile,
    track: Track,
    damage: Damage,
    /// Where a host found the port at the start.
    path: PathBuf,
    /// `None` while the cable is out.
    line: Option<SerialLine>,
    link: Option<Link>,
    truth: Option<(PathBuf, File)>,
    /// When a host first opened the port.
    opened: Option<Instant>,
    heard: bool,
    outbox: Vec<u8>,
    next_epoch: u64,
    next_delay_s: f64,
    unplugs: usize,
    report: ReceiverReport,
}

impl ReceiverSession {
    /// Opens the port; nothing is sent before a host opens it, too.
    ///
    /// # Errors
    /// [`ReceiverError`] if the configuration makes no sense, the link's place is taken, the truth file
    /// exists already, or the system gives no pseudo-terminal.
    pub fn open(config: ReceiverConfig) -> Result<Self, ReceiverError> {
        let profile = config.profile()?;
        config.check()?;
        let link = config.link.as_deref().map(Link::new).transpose()?;
        let truth = config.truth_csv.clone().map(create_truth).transpose()?;
        let line = SerialLine::open_under(link.as_ref())?;
        let faults = Faults { flip_bits: config.flip_bits, jitter_ms: config.jitter_ms, ..Faults::default() };
        let mut damage = Damage::new(&faults, config.seed);
        let next_delay_s = damage.delay_s();
        Ok(Self {
            track: Track::new(COURSE_DEG),
            profile,
            config,
            damage,
            path: line.path(link.as_ref()),
            line: Some(line),
            link,
            truth,
            opened: None,
            heard: false,
            outbox: Vec::new(),
            next_epoch: 0,
            next_delay_s,
            unplugs: 0,
            report: ReceiverReport::default(),
        })
    }

    /// The port for the host to open: the link if there is one.
    #[must_use]
    pub fn path(&self) -> PathBuf {
        self.path.clone()
    }

    /// Sends until it falls silent and the host has gone.
    ///
    /// # Errors
    /// [`ReceiverError`] if the system takes the line or the truth file away.
    pub fn run(mut self) -> Result<ReceiverReport, ReceiverError> {
        loop {
            let t_s = self.opened.map_or(0.0, |opened| opened.elapsed().as_secs_f64());
            if self.opened.is_some() {
                self.plug(t_s)?;
                if t_s > self.config.lasts_s {
                    let lingered = t_s > self.config.lasts_s + LINGER.as_secs_f64();
                    if lingered || !self.heard {
                        return Ok(self.report);
                    }
                } else if t_s >= self.next_send_s() {
                    self.send_epoch()?;
                }
            }
            self.exchange(t_s)?;
        }
    }

    fn epoch_s(&self) -> f64 {
        self.next_epoch as f64 / f64::from(self.config.rate_hz)
    }

    fn next_send_s(&self) -> f64 {
        self.epoch_s() + self.config.latency_ms / 1000.0 + self.next_delay_s
    }

    /// Pulls the cable or puts it back when it is time.
    fn plug(&mut self, t_s: f64) -> Result<(), ReceiverError> {
        let Some(at_s) = self.config.unplug_at_s.get(self.unplugs).copied() else { return Ok(()) };
        if self.line.is_some() && t_s >= at_s {
            self.line = None;
            self.heard = false;
            self.outbox.clear();
            self.link.iter().for_each(Link::remove);
        } else if self.line.is_none() && t_s >= at_s + self.config.unplug_for_s {
            self.line = Some(SerialLine::open_under(self.link.as_ref())?);
            self.unplugs += 1;
        }
        Ok(())
    }

    fn send_epoch(&mut self) -> Result<(), ReceiverError> {
        let t_s = self.epoch_s();
        let (speed_mps, distance_m) = self.profile.at(t_s);
        let (lat_deg, lon_deg) = self.track.at(distance_m);
        let has_fix =
            !self.config.no_fix_at_s.iter().any(|at| (*at..at + self.config.no_fix_for_s).contains(&t_s));
        let utc_s = f64::from(self.config.utc_s) + t_s;
        let epoch = Epoch { utc_s, has_fix, lat_deg, lon_deg, speed_mps, course_deg: COURSE_DEG };
        let there = self.heard && self.outbox.len() < UNREAD_BYTES_MAX;
        let fate = match (&self.line, there) {
            (None, _) => "unplugged",
            (Some(_), false) => "nobody",
            (Some(_), true) => "sent",
        };
        let (mut sent, mut damaged) = (0, 0);
        if fate == "sent" {
            for kind in self.config.sentences.clone() {
                let mut bytes = sentence(kind, &self.config.talker, &epoch).into_bytes();
                sent += 1;
                damaged += u64::from(self.harm(&mut bytes, self.report.sentences + sent));
                self.outbox.extend(bytes);
            }
            self.report.epochs_sent += 1;
        }
        self.report.sentences += sent;
        self.report.damaged += damaged;
        if let Some((path, file)) = &mut self.truth {
            let line = format!(
                "{},{t_s:.3},{},{fate},{},{lat_deg:.9},{lon_deg:.9},{speed_mps:.6},{COURSE_DEG:.2},{sent},{damaged}\n",
                self.next_epoch,
                time(utc_s),
                u8::from(has_fix),
            );
            file.write_all(line.as_bytes()).map_err(|cause| ReceiverError::Truth(path.clone(), cause))?;
        }
        self.next_epoch += 1;
        self.next_delay_s = self.damage.delay_s();
        Ok(())
    }

    /// Damages the sentence of this number as was asked for, and says whether it did.
    fn harm(&mut self, bytes: &mut [u8], number: u64) -> bool {
        let mut harmed = self.damage.flip(bytes);
        let due = self.config.damage_every > 0 && number.is_multiple_of(self.config.damage_every);
        // Another digit in place of a digit: nothing but the checksum can tell.
        if let Some(digit) = bytes.iter_mut().find(|byte| byte.is_ascii_digit()).filter(|_| due && !harmed) {
            *digit ^= 1;
            harmed = true;
        }
        harmed
    }

    /// Looks after the line until the next epoch is due.
    fn exchange(&mut self, t_s: f64) -> Result<(), ReceiverError> {
        let until = Duration::try_from_secs_f64(self.next_send_s() - t_s).unwrap_or(Duration::ZERO);
        let wait = if self.opened.is_some() { until.min(WAIT_MAX) } else { WAIT_MAX };
        let Some(line) = &self.line else {
            std::thread::sleep(wait);
            return Ok(());
        };
        let ready = line.wait(self.heard, !self.outbox.is_empty(), wait)?;
        if ready.writable {
            let took = line.write(&self.outbox)?;
            self.outbox.drain(..took);
        }
        if ready.readable {
            let mut buffer = [0; 256];
            self.report.bytes_from_host += line.read(&mut buffer)? as u64;
        }
        self.heard = !ready.nobody;
        if self.heard {
            self.opened.get_or_insert_with(Instant::now);
        } else {
            self.outbox.clear();
        }
        Ok(())
    }
}

/// A CSV with one line an epoch: its number, time since the port was opened, tag, fate (`sent`, `nobody` had the
/// port open, `unplugged`), whether there was a fix, what is true, sentences sent and those of them damaged.
fn create_truth(path: PathBuf) -> Result<(PathBuf, File), ReceiverError> {
    let header = "epoch,t_s,tag,fate,fix,lat_deg,lon_deg,speed_mps,course_deg,sentences,damaged\n";
    let created =
        File::create_new(&path).and_then(|mut file| file.write_all(header.as_bytes()).map(|()| file));
    match created {
        Ok(file) => Ok((path, file)),
        Err(cause) => Err(ReceiverError::Truth(path, cause)),
    }
}
