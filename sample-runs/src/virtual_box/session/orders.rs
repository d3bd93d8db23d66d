//! What the host says, and what the box does about it.

use std::sync::atomic::Ordering;

use firmware_protocol::{Event, Frame, Time};

use super::Session;
use crate::virtual_box::BoxError;

impl Session {
    /// Reads what the host said and does it.
    pub(super) fn read(&mut self) -> Result<(), BoxError> {
        let mut buffer = [0u8; 1024];
        let count = self.line.as_ref().map_or(Ok(0), |line| line.read(&mut buffer))?;
        let mut bytes = buffer.get(..count).unwrap_or(&[]);
        while let Some(event) = self.speech.next_event(&mut bytes) {
            // Damaged commands are dropped: the host asks again when no answer comes.
            if let Event::Frame(frame) = event {
                self.obey(&frame)?;
            }
        }
        Ok(())
    }

    fn obey(&mut self, frame: &Frame) -> Result<(), BoxError> {
        let now_s = self.clock.now_s();
        match frame {
            Frame::Ping { token } => {
                let clock_us = self.clock.stamp(self.clock.ticks_at(now_s));
                self.send(now_s, &Frame::Time(Time { token: *token, clock_us }));
            }
            Frame::Start => {
                // A text box says hello every two seconds anyway.
                if !self.speech.is_text() {
                    let hello = self.hello()?;
                    self.send(now_s, &Frame::Hello(hello));
                }
                self.start(now_s);
            }
            Frame::Stop => {
                self.send_rows(now_s)?;
                self.sending = false;
                self.next_hello_s = now_s + 1.0;
                self.dismissed = self.over.is_some();
            }
            Frame::Rate { row_rate_mhz } => {
                // A frame has one interval, so rows of the old rate go first.
                self.send_rows(now_s)?;
                self.sampler.set_rate(*row_rate_mhz); // one that it cannot do is not obeyed
            }
            // Frames of the other direction mean nothing to a box.
            Frame::Hello(_) | Frame::Readings(_) | Frame::Mark(_) | Frame::Status(_) | Frame::Time(_) => {}
        }
        Ok(())
    }

    /// Readings from now on; the first *start* of all begins the pass. Said again, it changes nothing.
    pub(super) fn start(&mut self, now_s: f64) {
        if self.sending {
            return;
        }
        self.sending = true;
        let ticks = self.clock.ticks_at(now_s);
        // The row stands at a whole µs, and the pass begins with it.
        let row_s = self.clock.world_at(ticks);
        let begun_s = *self.pass_begun_s.get_or_insert(row_s);
        self.sampler.start(ticks, (row_s - begun_s).max(0.0));
        self.progress.started.store(true, Ordering::Release);
    }
}
