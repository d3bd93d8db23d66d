//! The binary decoder: any bytes, in pieces of any size.

use super::events;
use super::wrapped::framed;
use firmware_protocol::{Decoder, Event, Frame, encode};

/// The first byte chooses the form: bytes as they come, or contents cut at 0xFF, each in a frame of its own.
pub fn body(data: &[u8]) {
    let Some((form, data)) = data.split_first() else { return };
    let wire = if form & 1 == 0 {
        data.to_vec()
    } else {
        data.split(|byte| *byte == 0xFF).flat_map(framed).collect()
    };
    let mut whole = Decoder::new();
    let at_once = events(&wire, |bytes| whole.next_event(bytes));
    let mut pieces = Decoder::new();
    let size = usize::from(form >> 1) + 1;
    let piecewise: Vec<Event> =
        wire.chunks(size).flat_map(|piece| events(piece, |bytes| pieces.next_event(bytes))).collect();
    assert_eq!(at_once, piecewise, "pieces changed what was decoded");
    assert_eq!(whole.counters(), pieces.counters());
    for event in at_once {
        let Event::Frame(frame) = event else { continue };
        // A hello of another major version may hold what ours does not.
        if matches!(frame, Frame::Hello(hello) if hello.version.0 != 1) {
            continue;
        }
        let mut fresh = Decoder::new();
        let again = events(encode(&frame).as_bytes(), |bytes| fresh.next_event(bytes));
        assert_eq!(again, [Event::Frame(frame)], "a frame that does not survive");
    }
}
