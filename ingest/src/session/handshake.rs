//! What a box has said of itself, and what else it says.

use super::refusal::{BoxRefusal, check_version};
use firmware_protocol::{Dropped, Event, Frame, Hello, Mark, PortDecoder, Readings, Status, Time};

/// Bytes from which it is guessed what else may be on the port: a sentence of a receiver, and more.
const FIRST_BYTES: usize = 128;
/// An uptime that falls by more than this is a boot, in ms: no frame comes so late.
const UPTIME_FALL_MS: u32 = 2_000;

/// One thing that a box says.
#[derive(Clone, Debug, PartialEq)]
pub enum Heard {
    /// What it is, and what it said of that before.
    Hello {
        hello: Hello,
        before: Option<Hello>,
    },
    Readings(Readings),
    /// A mark by its button.
    Mark(Mark),
    /// How it is, and was before; its uptime fell if it has booted, though no hello with another boot number came.
    Status {
        status: Status,
        before: Option<Status>,
        has_booted: bool,
    },
    /// The answer to a ping.
    Time(Time),
}

/// Takes the bytes of one port.
#[derive(Clone, Debug, Default)]
pub struct Handshake {
    /// What has come on the port and in which form.
    pub decoder: PortDecoder,
    /// Bytes so far, and the first of them.
    pub bytes: u64,
    pub first_bytes: Vec<u8>,
    /// The last good hello, and how many there were.
    pub hello: Option<Hello>,
    pub hellos: u64,
    /// Why the box cannot be understood at all, by its last hello.
    pub refusal: Option<BoxRefusal>,
    pub status: Option<Status>,
    /// Uptime of the last status since the boot, in ms.
    uptime_ms: Option<u32>,
}

impl Handshake {
    /// Good frames of ours so far.
    pub fn frames(&self) -> u64 {
        self.decoder.counters().frames
    }

    /// Bytes are missing here, or another box may follow.
    pub fn line_broken(&mut self) {
        self.decoder.reset();
    }

    /// Takes bytes off the front of `bytes` up to the end of the next thing that the box says; `None` when they are
    /// used up.
    pub fn hear(&mut self, bytes: &mut &[u8]) -> Option<Heard> {
        loop {
            let before = *bytes;
            let event = self.decoder.next_event(bytes);
            let taken = before.len() - bytes.len();
            self.bytes += taken as u64;
            let room = FIRST_BYTES.saturating_sub(self.first_bytes.len());
            self.first_bytes.extend(before.iter().take(taken.min(room)));
            match event? {
                Event::Frame(Frame::Hello(hello)) => return Some(self.on_hello(hello)),
                Event::Frame(Frame::Readings(readings)) => return Some(Heard::Readings(readings)),
                Event::Frame(Frame::Mark(mark)) => return Some(Heard::Mark(mark)),
                Event::Frame(Frame::Status(status)) => return Some(self.on_status(status)),
                Event::Frame(Frame::Time(time)) => return Some(Heard::Time(time)),
                // Only a host sends these; an echoing line is not the box.
                Event::Frame(Frame::Ping { .. } | Frame::Start | Frame::Stop | Frame::Rate { .. }) => {}
                Event::Dropped(Dropped::Hello(error)) => {
                    if self.hello.is_none() {
                        self.refusal = Some(BoxRefusal::Nonsense(error));
                    }
                }
                Event::Dropped(_) => {}
            }
        }
    }

    fn on_hello(&mut self, hello: Hello) -> Heard {
        let before = self.hello.replace(hello);
        self.hellos += 1;
        self.refusal = check_version(&hello).err();
        if before.is_some_and(|before| before.boot != hello.boot) {
            self.uptime_ms = None;
        }
        Heard::Hello { hello, before }
    }

    fn on_status(&mut self, status: Status) -> Heard {
        let has_booted = self.uptime_ms.is_some_and(|before| {
            // Near the wrap of 49.7 days a fall is the wrap.
            status.uptime_ms.saturating_add(UPTIME_FALL_MS) < before && before < u32::MAX - 600_000
        });
        self.uptime_ms = Some(status.uptime_ms);
        Heard::Status { status, before: self.status.replace(status), has_booted }
    }
}
