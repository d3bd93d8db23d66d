//! The box's end of its line: what it says, with the faults of the line, and what it hears.

use firmware_protocol::{Event, Form, Frame, Time, encode, sentences};
use held::truth::Fate;
use rand::RngExt;
use tokio::io::{AsyncReadExt, AsyncWriteExt, DuplexStream};
use tokio::time::{Duration, timeout};

use super::{OnTheWay, SensorBox};

impl SensorBox {
    /// Puts a frame on its way; whether it leaves whole.
    pub(super) fn say(&mut self, frame: &Frame, is_word: bool) -> bool {
        let now_s = self.now_s();
        if self.link.is_none() || self.is_unheard || now_s < self.until.silent_s {
            return false;
        }
        let mut bytes: Vec<u8> = match self.plan.form {
            Form::Text => sentences(frame).flat_map(|sentence| sentence.as_bytes().to_vec()).collect(),
            Form::Binary => encode(frame).as_bytes().to_vec(),
        };
        let mut whole = !std::mem::take(&mut self.runs_into_next);
        if self.plan.flipped_bits > 0.0 {
            let bits = 8 * bytes.len();
            for bit in 0..bits {
                if self.rng.random_bool(self.plan.flipped_bits) {
                    bytes[bit / 8] ^= 1 << (bit % 8);
                    whole = false;
                }
            }
            self.runs_into_next = bytes.last() != Some(&0);
        }
        let late_s = 1e-3 * self.plan.jitter_ms * self.rng.random::<f64>();
        // A line keeps the order.
        let due_s = self.outbox.back().map_or(now_s, |last| last.due_s).max(now_s + late_s);
        let is_word = is_word && whole;
        // The first copy of a frame carries its rows.
        let mut rows = match frame {
            Frame::Readings(readings) => Some((self.boot, readings.first_row)),
            _ => None,
        };
        if whole && rows.is_some() && self.rng.random_bool(self.plan.doubled) {
            self.outbox.push_back(OnTheWay { due_s, bytes: bytes.clone(), is_word, rows: rows.take() });
        }
        self.outbox.push_back(OnTheWay { due_s, bytes, is_word, rows });
        whole
    }

    pub(super) async fn send_what_is_due(&mut self) {
        let now_s = self.now_s();
        while self.outbox.front().is_some_and(|first| first.due_s <= now_s) {
            let Some(first) = self.outbox.pop_front() else { return };
            let Some(link) = &mut self.link else {
                self.lose(&first);
                continue;
            };
            let sent = timeout(Duration::from_secs(1), link.write_all(&first.bytes)).await;
            if !matches!(sent, Ok(Ok(()))) {
                self.link = None;
                self.lose(&first);
            } else if first.is_word {
                let host_s = self.host_s();
                self.known.lock().unwrap().words_s.push(host_s);
            }
        }
    }

    pub(super) fn hear(&mut self, mut bytes: &[u8]) {
        let now_s = self.now_s();
        let mut frames = Vec::new();
        while let Some(event) = self.heard.next_event(&mut bytes) {
            if let Event::Frame(frame) = event {
                frames.push(frame);
            }
        }
        if self.prints() && self.heard.form() == Some(Form::Binary) {
            // Frames mean nothing to it.
            self.heard.reset();
            frames.clear();
        }
        if !self.plan.answers {
            return;
        }
        for frame in frames {
            match frame {
                Frame::Start => {
                    if !self.prints() {
                        self.hello();
                    }
                    if self.sampling.is_none() {
                        self.sampling = Some((self.ticks(now_s) + 1_000, self.next_row));
                    }
                }
                Frame::Stop => {
                    let lost = std::mem::take(&mut self.waiting);
                    self.know(lost, Fate::Lost);
                    self.sampling = None;
                }
                Frame::Ping { token } => {
                    let clock_us = self.clock_us(self.ticks(now_s));
                    self.say(&Frame::Time(Time { token, clock_us }), true);
                }
                _ => {}
            }
        }
    }
}

/// Bytes from the host; 0 when it has closed its end.
pub(super) async fn read_from(link: &mut Option<DuplexStream>, buffer: &mut [u8]) -> usize {
    match link {
        // An error is an end as well.
        Some(link) => link.read(buffer).await.unwrap_or(0),
        None => std::future::pending().await,
    }
}
