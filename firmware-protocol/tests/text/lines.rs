//! Sentences to try things on.

use firmware_protocol::{Dropped, Event, Frame, Hello, Label, TextDecoder, sentences};

use crate::samples::one_of_each;

/// The sentences of a frame as bytes on the line.
pub fn lines(frame: &Frame) -> Vec<u8> {
    sentences(frame).flat_map(|sentence| sentence.as_bytes().to_vec()).collect()
}

/// A body between `$` and `*`, given its right checksum and a line end.
pub fn line_of(body: &str) -> Vec<u8> {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}\r\n").into_bytes()
}

/// A hello of two channels, rows 10 ms apart.
pub fn hello(boot: u32) -> Frame {
    let Frame::Hello(of_samples) = one_of_each()[0] else { panic!("the first sample is a hello") };
    let (serial, name) = (Label::new("0042").unwrap(), Label::new("plow box").unwrap());
    Frame::Hello(Hello::new(boot, (1, 2, 3), 100_000, serial, name, of_samples.channels()).unwrap())
}

/// All that a fresh decoder says about `bytes` taken in one piece.
pub fn text_events(bytes: &[u8]) -> Vec<Event> {
    more_text_events(&mut TextDecoder::new(), bytes)
}

/// All that `decoder` says about `bytes` taken in one piece.
pub fn more_text_events(decoder: &mut TextDecoder, mut bytes: &[u8]) -> Vec<Event> {
    std::iter::from_fn(|| decoder.next_event(&mut bytes)).collect()
}

/// Number, clock and counts of each row among the events.
pub fn rows(events: &[Event]) -> Vec<(u32, u32, Vec<i32>)> {
    let row = |event: &Event| match event {
        Event::Frame(Frame::Readings(readings)) => {
            Some((readings.first_row, readings.clock_us, readings.counts().to_vec()))
        }
        _ => None,
    };
    events.iter().filter_map(row).collect()
}

/// What was dropped.
pub fn dropped(events: &[Event]) -> Vec<Dropped> {
    events.iter().filter_map(|e| if let Event::Dropped(why) = e { Some(*why) } else { None }).collect()
}
