//! The binary decoder: any bytes, in pieces of any size.

use firmware_protocol::{Decoder, Event, Frame, cobs_encode, crc32c, encode};

fn events(decoder: &mut Decoder, mut bytes: &[u8]) -> Vec<Event> {
    let mut events = Vec::new();
    while let Some(event) = decoder.next_event(&mut bytes) {
        events.push(event);
    }
    assert!(bytes.is_empty(), "the decoder left bytes");
    events
}

/// The first byte chooses the form: bytes as they come, or contents behind a right CRC and COBS, which no
/// mutation would ever hit by chance.
pub fn body(data: &[u8]) {
    let Some((form, data)) = data.split_first() else { return };
    let wire = if form & 1 == 0 { data.to_vec() } else { framed(data) };
    let mut whole = Decoder::new();
    let at_once = events(&mut whole, &wire);
    let mut pieces = Decoder::new();
    let size = usize::from(form >> 1) + 1;
    let piecewise: Vec<Event> = wire.chunks(size).flat_map(|piece| events(&mut pieces, piece)).collect();
    assert_eq!(at_once, piecewise, "pieces changed what was decoded");
    assert_eq!(whole.counters(), pieces.counters());
    for event in at_once {
        let Event::Frame(frame) = event else { continue };
        // A hello of another major version may hold what ours does not.
        if matches!(frame, Frame::Hello(hello) if hello.version.0 != 1) {
            continue;
        }
        let (bytes, len) = encode(&frame);
        assert_eq!(
            events(&mut Decoder::new(), &bytes[..len]),
            [Event::Frame(frame)],
            "a frame that does not survive"
        );
    }
}

/// Contents cut at 0xFF into bodies, each with its CRC.
fn framed(data: &[u8]) -> Vec<u8> {
    let mut wire = Vec::new();
    for content in data.split(|byte| *byte == 0xFF) {
        let mut body = content.to_vec();
        body.extend_from_slice(&crc32c(content).to_le_bytes());
        let mut out = vec![0; body.len() + body.len() / 254 + 2];
        if let Ok(used) = cobs_encode(&body, &mut out) {
            wire.extend_from_slice(&out[..used]);
            wire.push(0);
        }
    }
    wire
}
