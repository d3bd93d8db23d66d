//! The conversation with one box, as a state machine without a port: bytes and the time go in, what the box says and
//! what is to be said to it come out.
//!
//! Discovery, calibration and recording hold the same conversation, each over a driver of its own: a box says
//! hello, is told to start, and is told so again when it has begun anew. A recording hears the box a second time in
//! [`crate::assemble`], from the records of its bytes, through the same [`Handshake`].

mod handshake;
mod not_a_box;
mod refusal;

pub use handshake::{Handshake, Heard};
pub use not_a_box::NotABox;
pub use refusal::{BoxRefusal, check_version};

use firmware_protocol::{Form, Frame};
use std::collections::VecDeque;
use std::time::Duration;
use tokio::time::Instant;

/// A box that is running already says no hello by itself; after this long it is told to start, which it
/// answers with one. Boards that reset when their port is opened have not finished that much earlier.
const START_UNASKED: Duration = Duration::from_millis(1300);
/// A hello unasked says that the box has begun anew and waits for a start; one that comes this soon after a
/// start is the answer to it.
const START_AGAIN: Duration = Duration::from_millis(700);
/// Pings right after the opening and after a boot, and the time between them and between later ones.
const BURST_PINGS: u32 = 5;
const BURST_PERIOD: Duration = Duration::from_millis(30);
const PING_PERIOD: Duration = Duration::from_secs(1);

/// Whether a box that has said no hello by itself is told to start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StartUnasked {
    /// If something of ours was heard: a search must not disturb another device.
    IfHeard,
    /// If something of ours was heard, or nothing at all: a person named the port.
    IfHeardOrSilent,
    /// Always: a person said that a box is there.
    Always,
}

#[derive(Clone, Copy, Debug)]
struct Pings {
    token: u32,
    burst_left: u32,
    next: Instant,
}

/// The state machine.
#[derive(Clone, Debug)]
pub struct Session {
    /// What the box has said of itself.
    pub handshake: Handshake,
    unasked: StartUnasked,
    /// When a box without a hello is told to start, again if that brings none; `None` once it has said one.
    wake_at: Option<Instant>,
    /// When the box was last told to start, if it is to run.
    started: Option<Instant>,
    /// The box is to stand still: it was told to stop last.
    stopped: bool,
    /// `None` where the box's clock is of no interest.
    pings: Option<Pings>,
    to_say: VecDeque<Frame>,
}

impl Session {
    /// A conversation without pings on a port that has just been opened.
    pub fn new(unasked: StartUnasked, now: Instant) -> Self {
        Self {
            handshake: Handshake::default(),
            unasked,
            wake_at: Some(now + START_UNASKED),
            started: None,
            stopped: false,
            pings: None,
            to_say: VecDeque::new(),
        }
    }

    /// A conversation that pings the box all the time.
    pub fn with_pings(unasked: StartUnasked, now: Instant) -> Self {
        let pings = Some(Pings { token: 0, burst_left: BURST_PINGS, next: now });
        Self { pings, ..Self::new(unasked, now) }
    }

    /// The form in which the box is spoken to: that in which it speaks.
    pub fn form(&self) -> Option<Form> {
        self.handshake.decoder.form()
    }

    /// The port was opened, again perhaps: a box that is to run is told to start, and one that is to stand still to stop,
    /// as it may not have heard it. A start does not count as the start
    /// which a hello may answer, as a board that resets at the opening has not heard it.
    pub fn opened(&mut self, now: Instant) {
        self.handshake.line_broken();
        self.to_say.clear();
        let again = if self.stopped { Some(Frame::Stop) } else { self.started.map(|_| Frame::Start) };
        self.to_say.extend(again);
        self.ping_burst(now);
    }

    /// The box is to run from now on.
    pub fn start(&mut self, now: Instant) {
        self.wake_at = None;
        self.started = Some(now);
        self.stopped = false;
        self.to_say.push_back(Frame::Start);
    }

    /// The box is to stand still from now on.
    pub fn stop(&mut self) {
        self.wake_at = None;
        self.started = None;
        self.stopped = true;
        self.to_say.push_back(Frame::Stop);
    }

    /// Pings a few times quickly, if this conversation pings.
    pub fn ping_burst(&mut self, now: Instant) {
        if let Some(pings) = &mut self.pings {
            (pings.burst_left, pings.next) = (BURST_PINGS, now);
        }
    }

    /// Takes bytes off the front of `bytes` up to the end of the next thing that the box says; `None` when they are
    /// used up.
    pub fn hear(&mut self, bytes: &mut &[u8], now: Instant) -> Option<Heard> {
        let heard = self.handshake.hear(bytes)?;
        if let Heard::Hello { hello, before } = &heard {
            self.wake_at = None;
            let booted = before.is_some_and(|before| before.boot != hello.boot);
            if let Some(started) = self.started {
                if booted || now.saturating_duration_since(started) >= START_AGAIN {
                    self.start(now);
                }
                if booted {
                    self.ping_burst(now);
                }
            }
        }
        Some(heard)
    }

    /// When [`Self::say`] has something to say next, if nothing is heard meanwhile.
    pub fn due(&self) -> Option<Instant> {
        self.wake_at.into_iter().chain(self.pings.map(|pings| pings.next)).min()
    }

    /// The next frame that is to be sent by now.
    pub fn say(&mut self, now: Instant) -> Option<Frame> {
        if let Some(at) = self.wake_at.as_mut().filter(|at| **at <= now) {
            // The start or its answer may be lost on the way.
            *at = now + START_UNASKED;
            if self.may_wake() {
                self.to_say.push_back(Frame::Start);
            }
        }
        if let Some(frame) = self.to_say.pop_front() {
            return Some(frame);
        }
        let pings = self.pings.as_mut().filter(|pings| pings.next <= now)?;
        pings.token = pings.token.wrapping_add(1);
        pings.burst_left = pings.burst_left.saturating_sub(1);
        pings.next = now + if pings.burst_left > 0 { BURST_PERIOD } else { PING_PERIOD };
        Some(Frame::Ping { token: pings.token })
    }

    fn may_wake(&self) -> bool {
        match self.unasked {
            StartUnasked::IfHeard => self.handshake.frames() > 0,
            StartUnasked::IfHeardOrSilent => self.handshake.frames() > 0 || self.handshake.bytes == 0,
            StartUnasked::Always => true,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::script::{bytes, hello};
    use firmware_protocol::Time;

    /// A conversation with the time in ms since it began.
    struct Talk {
        began: Instant,
        session: Session,
    }

    impl Talk {
        fn new(unasked: StartUnasked) -> Self {
            let began = Instant::now();
            Self { began, session: Session::new(unasked, began) }
        }

        fn at(&self, ms: u64) -> Instant {
            self.began + Duration::from_millis(ms)
        }

        fn said(&mut self, ms: u64) -> Vec<Frame> {
            let now = self.at(ms);
            std::iter::from_fn(|| self.session.say(now)).collect()
        }

        fn hear(&mut self, ms: u64, bytes: &[u8]) -> Vec<Frame> {
            let (now, mut rest) = (self.at(ms), bytes);
            while self.session.hear(&mut rest, now).is_some() {}
            self.said(ms)
        }
    }

    fn hello_bytes(boot: u32) -> Vec<u8> {
        bytes(&Frame::Hello(hello(boot)))
    }

    #[test]
    fn a_port_is_spoken_to_unasked_only_as_far_as_is_allowed() {
        let ours = bytes(&Frame::Time(Time { token: 1, clock_us: 2 }));
        let (nothing, noise) = (Vec::new(), vec![0x81; 9]);
        for (unasked, wanted) in [
            (StartUnasked::IfHeard, [false, false, true]),
            (StartUnasked::IfHeardOrSilent, [true, false, true]),
            (StartUnasked::Always, [true, true, true]),
        ] {
            for (came, wanted) in [&nothing, &noise, &ours].into_iter().zip(wanted) {
                let mut talk = Talk::new(unasked);
                assert_eq!(talk.hear(500, came), []);
                assert_eq!(talk.session.due(), Some(talk.at(1300)));
                assert_eq!(talk.said(1299), []);
                let start: &[Frame] = if wanted { &[Frame::Start] } else { &[] };
                assert_eq!(talk.said(1300), start, "{unasked:?} {came:?}");
                assert_eq!((talk.said(2599), talk.session.due()), (vec![], Some(talk.at(2600))));
                assert_eq!(talk.said(2600), start, "again, as long as no hello comes");
                // What was noise may have run into the first.
                talk.hear(2700, &[hello_bytes(7), hello_bytes(7)].concat());
                assert_eq!((talk.said(9000), talk.session.due()), (vec![], None));
            }
        }
    }

    #[test]
    fn a_box_that_said_hello_or_was_told_to_stop_is_not_woken() {
        let mut talk = Talk::new(StartUnasked::Always);
        assert_eq!(talk.hear(100, &hello_bytes(7)), []);
        assert_eq!(talk.said(2000), []);
        let mut talk = Talk::new(StartUnasked::Always);
        talk.session.stop();
        assert_eq!(talk.said(2000), [Frame::Stop]);
    }

    /// Found: a box under calibration was told to start every 0.7 s, as its answer to the first start was taken for a
    /// hello unasked as soon as that time was over.
    #[test]
    fn the_answer_to_a_start_is_not_answered_and_a_hello_unasked_is_once() {
        let mut talk = Talk::new(StartUnasked::IfHeard);
        talk.hear(100, &hello_bytes(7));
        talk.session.start(talk.at(200));
        assert_eq!(talk.said(200), [Frame::Start]);
        assert_eq!(talk.hear(300, &hello_bytes(7)), []);
        assert_eq!(talk.hear(2000, &bytes(&Frame::Time(Time { token: 1, clock_us: 2 }))), []);
        // A boot without a boot number.
        assert_eq!(talk.hear(5000, &hello_bytes(7)), [Frame::Start]);
        assert_eq!(talk.hear(5100, &hello_bytes(7)), []);
        // With one it is known at once.
        assert_eq!(talk.hear(5200, &hello_bytes(8)), [Frame::Start]);
        talk.session.stop();
        assert_eq!(talk.said(5300), [Frame::Stop]);
        assert_eq!(talk.hear(9000, &hello_bytes(9)), []);
    }

    /// A board that resets when its port is opened may say hello right after the start that it has not heard.
    #[test]
    fn the_start_at_an_opening_is_none_that_a_hello_answers() {
        let mut talk = Talk::new(StartUnasked::Always);
        talk.hear(100, &hello_bytes(7));
        talk.session.start(talk.at(200));
        assert_eq!(talk.hear(300, &hello_bytes(7)), [Frame::Start]);
        talk.session.opened(talk.at(8000));
        assert_eq!(talk.said(8000), [Frame::Start]);
        assert_eq!(talk.hear(8300, &hello_bytes(7)), [Frame::Start]);
    }

    #[test]
    fn pings_come_in_a_burst_and_then_each_second() {
        let mut talk = Talk::new(StartUnasked::Always);
        talk.session = Session::with_pings(StartUnasked::Always, talk.began);
        talk.hear(0, &hello_bytes(7));
        let times: Vec<u64> = (1..4000).filter(|ms| !talk.said(*ms).is_empty()).collect();
        assert_eq!(times, [30, 60, 90, 120, 1120, 2120, 3120]);
        talk.session.start(talk.at(4000));
        let answer = talk.hear(4000, &hello_bytes(8));
        assert_eq!(
            answer,
            [Frame::Start, Frame::Start, Frame::Ping { token: 9 }],
            "a boot asks for the clock"
        );
    }
}
