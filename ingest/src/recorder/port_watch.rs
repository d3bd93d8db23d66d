//! Whether a port is there and something comes on it, and what its task is told.

use super::RecordError;
use crate::engine_off_and_blocked;
use crate::port::{NO_SUCH_PORT, ToPort};
use crate::wire_file::WireEvent;
use std::path::PathBuf;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::Instant;

/// Looks at silence lie a tenth of a second apart: where more lies between two of them the recorder itself was held up
/// (stopped, starved, its disk slow), and what the box said meanwhile still waits in the port.
const LOOKS_APART: Duration = Duration::from_millis(300);

/// A port that is closed to be opened anew is back before this is over.
const OPENED_ANEW: Duration = Duration::from_millis(300);

/// A port that is open and brings nothing for this long is told to be silent, however often it is opened anew.
const SILENT_TOLD: Duration = Duration::from_secs(2);

/// What there is instead of a port that is not there is looked at so often.
const LOOK_AROUND: Duration = Duration::from_secs(2);

/// What to do about a port that went away.
const SEE_TO_CABLE: &str =
    engine_off_and_blocked!("look at its cable and plug; it is taken up again by itself when it is back");

/// A port that a recorder reads from.
#[derive(Debug)]
pub struct PortWatch {
    /// The port, as it was named.
    pub port: PathBuf,
    /// Since when it is away.
    pub away_since: Option<Instant>,
    went: Option<String>,
    /// The ports that there are instead, and when that was looked at.
    others: Option<(Instant, String)>,
    /// When it was opened for the first time.
    first_opened: Option<Instant>,
    /// `None` once the port's task has been let go.
    orders: Option<mpsc::Sender<ToPort>>,
    heard: Instant,
    /// Since when nothing has come, whether or not it was opened anew meanwhile because of that.
    silent_since: Instant,
    opened_anew: bool,
    /// When its silence was last looked at.
    looked: Option<Instant>,
    /// Silent for longer than the first, the port is opened anew; the limit now, which doubles up to the last.
    silence: [Duration; 2],
    silence_now: Duration,
}

impl PortWatch {
    /// A port that is about to be served.
    pub fn new(port: PathBuf, orders: mpsc::Sender<ToPort>, silence: [Duration; 2]) -> Self {
        Self {
            port,
            away_since: None,
            went: None,
            others: None,
            first_opened: None,
            orders: Some(orders),
            heard: Instant::now(),
            silent_since: Instant::now(),
            opened_anew: false,
            looked: None,
            silence,
            silence_now: silence[0],
        }
    }

    /// Tells the port's task something. A task that takes no orders has ended with its port, or will
    /// take the next one: orders may be repeated and may get lost.
    pub fn order(&self, order: ToPort) {
        if let Some(orders) = &self.orders {
            let _ = orders.try_send(order);
        }
    }

    /// Lets the port's task end: it says what it has read, and reads no more.
    pub fn let_go(&mut self) {
        self.orders = None;
    }

    /// Takes note of what happened.
    pub fn take(&mut self, what: &WireEvent, now: Instant) {
        match what {
            WireEvent::Received(_) => {
                (self.heard, self.silent_since) = (now, now);
                (self.silence_now, self.opened_anew) = (self.silence[0], false);
            }
            WireEvent::PortGone(why) => {
                self.away_since.get_or_insert(now);
                self.went = Some(why.clone());
            }
            WireEvent::PortOpened(_) => {
                self.away_since = None;
                self.first_opened.get_or_insert(now);
                self.heard = now;
                if !self.opened_anew {
                    self.silent_since = now;
                }
            }
            WireEvent::Started => (self.heard, self.silent_since) = (now, now),
            _ => {}
        }
    }

    /// Has a port that is open but silent opened anew. To open it loses what waits in it, so time in which nobody
    /// listened is no silence.
    pub fn check_silence(&mut self, now: Instant) {
        let apart = self.looked.replace(now).map_or(Duration::ZERO, |looked| now.duration_since(looked));
        if apart > LOOKS_APART {
            self.heard = (self.heard + apart).min(now);
            self.silent_since = (self.silent_since + apart).min(now);
        }
        let silent = now.duration_since(self.heard);
        if self.away_since.is_none() && silent >= self.silence_now {
            self.order(ToPort::ReopenSilent(format!("silent for {:.1} s", silent.as_secs_f64())));
            (self.heard, self.opened_anew) = (now, true);
            self.silence_now = (self.silence_now * 2).min(self.silence[1]);
        }
    }

    /// For how long there has been something to listen to, whether or not the port was opened anew meanwhile.
    pub fn listened(&self, now: Instant) -> Duration {
        self.first_opened.map_or(Duration::ZERO, |opened| now.saturating_duration_since(opened))
    }

    /// Of a port that never was there, looks which others there are.
    pub fn look_around(&mut self, now: Instant, others: impl FnOnce() -> String) {
        let is_missing = self.first_opened.is_none() && self.went.as_deref() == Some(NO_SUCH_PORT);
        let is_due =
            self.others.as_ref().is_none_or(|(at, _)| now.saturating_duration_since(*at) >= LOOK_AROUND);
        if is_missing && is_due {
            self.others = Some((now, others()));
        }
    }

    /// What is waited for while the port is away, in one sentence. One that is being opened anew is not.
    pub fn waits(&self, now: Instant) -> Option<String> {
        let away = now.saturating_duration_since(self.away_since?);
        let why = self.went.as_deref().unwrap_or_default();
        let why = match self.first_opened {
            Some(_) if away < OPENED_ANEW => return None,
            Some(_) => format!("it went away ({why}). {SEE_TO_CABLE}"),
            None => match &self.others {
                Some((_, others)) if !others.is_empty() => format!("{why}; {others}"),
                _ => why.to_owned(),
            },
        };
        Some(format!("waiting for {}: {why}", self.port.display()))
    }

    /// That nothing comes from a box whose port is there, in one sentence.
    pub fn is_silent(&self, now: Instant) -> Option<String> {
        let silent = now.saturating_duration_since(self.silent_since);
        (self.first_opened.is_some() && silent >= SILENT_TOLD)
            .then(|| format!("nothing comes on {}: its box is silent", self.port.display()))
    }

    /// A run that is to begin at once does not while a port is away.
    pub fn check_there(&self) -> Result<(), RecordError> {
        match (&self.went, self.away_since) {
            (Some(why), Some(_)) => Err(RecordError::PortWent { port: self.port.clone(), why: why.clone() }),
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SILENCE: [Duration; 2] = [Duration::from_millis(1500), Duration::from_secs(12)];

    fn is_opened_anew(looks_ms: &[u64]) -> bool {
        let (orders, mut ordered) = mpsc::channel(4);
        let mut watch = PortWatch::new(PathBuf::from("port"), orders, SILENCE);
        let began = Instant::now();
        watch.take(&WireEvent::Received(vec![1]), began);
        looks_ms.iter().for_each(|at_ms| watch.check_silence(began + Duration::from_millis(*at_ms)));
        matches!(ordered.try_recv(), Ok(ToPort::ReopenSilent(_)))
    }

    #[test]
    fn what_is_waited_for_is_one_sentence_at_once_and_not_while_a_port_is_opened_anew() {
        let (orders, _ordered) = mpsc::channel(4);
        let mut watch = PortWatch::new(PathBuf::from("/dev/plow"), orders, SILENCE);
        let began = Instant::now();
        let at = |ms| began + Duration::from_millis(ms);
        assert_eq!(watch.waits(began), None);
        watch.take(&WireEvent::PortGone("there is no such port".to_owned()), began);
        let waits = "waiting for /dev/plow: there is no such port";
        assert_eq!(watch.waits(began).as_deref(), Some(waits));
        // Somebody may plug in another one while it is waited for.
        watch.look_around(at(100), || "there are: a".to_owned());
        watch.look_around(at(500), || "there are: a, b".to_owned());
        assert_eq!(watch.waits(at(600)), Some(format!("{waits}; there are: a")));
        watch.look_around(at(2100), || "there are: a, b".to_owned());
        assert_eq!(watch.waits(at(2200)), Some(format!("{waits}; there are: a, b")));
        assert_eq!(watch.listened(at(900)), Duration::ZERO);
        watch.take(&WireEvent::PortOpened("/dev/plow".to_owned()), at(3000));
        assert_eq!((watch.waits(at(3000)), watch.listened(at(3400))), (None, Duration::from_millis(400)));
        watch.take(&WireEvent::PortGone("hung up".to_owned()), at(4000));
        assert_eq!(watch.waits(at(4100)), None);
        let cable = format!("waiting for /dev/plow: it went away (hung up). {SEE_TO_CABLE}");
        assert_eq!(watch.waits(at(4300)), Some(cable));
    }

    /// Found by a box that hung: "port-back" was the last that was told, and "nothing lost" stood beside it.
    #[test]
    fn a_box_that_hangs_is_told_to_be_silent_though_its_port_is_opened_anew() {
        let (orders, mut ordered) = mpsc::channel(4);
        let mut watch = PortWatch::new(PathBuf::from("/dev/plow"), orders, SILENCE);
        let began = Instant::now();
        watch.take(&WireEvent::PortOpened("/dev/plow".to_owned()), began);
        watch.take(&WireEvent::Received(vec![1]), began);
        let mut told_ms = Vec::new();
        for at_ms in (100..20_000).step_by(100) {
            let now = began + Duration::from_millis(at_ms);
            watch.check_silence(now);
            if let Ok(ToPort::ReopenSilent(why)) = ordered.try_recv() {
                watch.take(&WireEvent::PortGone(why), now);
                watch.take(&WireEvent::PortOpened("/dev/plow".to_owned()), now + Duration::from_millis(50));
            }
            if at_ms == 15_000 {
                watch.take(&WireEvent::Received(vec![1]), now);
            }
            if let Some(sentence) = watch.waits(now).or_else(|| watch.is_silent(now)) {
                assert_eq!(sentence, "nothing comes on /dev/plow: its box is silent");
                told_ms.push(at_ms);
            }
        }
        let expected: Vec<u64> = (2_000..15_000).step_by(100).chain((17_000..20_000).step_by(100)).collect();
        assert_eq!(told_ms, expected);
        // A recorder that was held up itself does not know whether the box was silent.
        watch.take(&WireEvent::Received(vec![1]), began + Duration::from_secs(20));
        watch.check_silence(began + Duration::from_millis(20_100));
        watch.check_silence(began + Duration::from_secs(30));
        assert_eq!(watch.is_silent(began + Duration::from_secs(30)), None);
    }

    /// Each try costs what waits in the port, so they become seldomer; a byte makes them as quick as before.
    #[test]
    fn a_port_that_stays_silent_is_tried_ever_more_seldom() {
        let (orders, mut ordered) = mpsc::channel(4);
        let mut watch = PortWatch::new(PathBuf::from("port"), orders, SILENCE);
        let began = Instant::now();
        watch.take(&WireEvent::Received(vec![1]), began);
        let mut tried_ms = Vec::new();
        for at_ms in (100..62_000).step_by(100) {
            let now = began + Duration::from_millis(at_ms);
            match at_ms {
                40_000 => watch.take(&WireEvent::Received(vec![1]), now),
                // A run that begins gives the box its time.
                41_000 => watch.take(&WireEvent::Started, now),
                46_000 => watch.take(&WireEvent::PortGone("hung up".to_owned()), now),
                60_000 => watch.take(&WireEvent::PortOpened("port".to_owned()), now),
                _ => {}
            }
            watch.check_silence(now);
            if matches!(ordered.try_recv(), Ok(ToPort::ReopenSilent(_))) {
                tried_ms.push(at_ms);
            }
        }
        assert_eq!(tried_ms, [1_500, 4_500, 10_500, 22_500, 34_500, 42_500, 45_500]);
    }

    #[test]
    fn a_silent_port_is_opened_anew_but_not_by_a_recorder_that_was_held_up() {
        let steady: Vec<u64> = (0..=16).map(|n| n * 100).collect();
        assert!(is_opened_anew(&steady));
        assert!(!is_opened_anew(&[0, 100, 2_500]));
        assert!(!is_opened_anew(&[0, 100, 2_500, 2_600, 3_900]));
        let after: Vec<u64> = [0, 100].into_iter().chain((25..=45).map(|n| n * 100)).collect();
        assert!(is_opened_anew(&after), "silent since it listens again");
    }

    /// Silence counts from the last byte, from a run that begins and from a cable that is back, and not before there is a port.
    #[test]
    fn what_begins_anew_is_not_silent_yet() {
        let (orders, mut ordered) = mpsc::channel(4);
        let mut watch = PortWatch::new(PathBuf::from("port"), orders, SILENCE);
        let began = Instant::now();
        let at = |ms| began + Duration::from_millis(ms);
        let opened = || WireEvent::PortOpened("port".to_owned());
        assert_eq!(watch.is_silent(at(10_000)), None, "it was never opened");
        watch.take(&opened(), at(0));
        watch.check_silence(at(2_500));
        assert!(watch.is_silent(at(2_500)).is_some());
        watch.take(&WireEvent::Started, at(2_600));
        assert_eq!(watch.is_silent(at(4_500)), None);
        assert!(watch.is_silent(at(4_700)).is_some());
        assert!(matches!(ordered.try_recv(), Ok(ToPort::ReopenSilent(_))));
        watch.take(&WireEvent::Received(vec![1]), at(6_000));
        watch.take(&WireEvent::PortGone("hung up".to_owned()), at(7_000));
        watch.take(&opened(), at(20_000));
        assert_eq!(watch.is_silent(at(21_500)), None, "the cable was out, the box is not silent");
        assert!(watch.is_silent(at(22_100)).is_some());
    }

    /// A port that has been let go is told nothing more, however long it is silent.
    #[test]
    fn a_port_that_was_let_go_is_left_alone() {
        let (orders, mut ordered) = mpsc::channel(4);
        let mut watch = PortWatch::new(PathBuf::from("port"), orders, SILENCE);
        let began = Instant::now();
        watch.take(&WireEvent::PortOpened("port".to_owned()), began);
        watch.let_go();
        (1..100).for_each(|n| watch.check_silence(began + Duration::from_millis(n * 100)));
        assert!(matches!(ordered.try_recv(), Err(mpsc::error::TryRecvError::Disconnected)));
    }
}
