//! The decoder of sentences, and the one that finds out which form a port speaks: any bytes, in pieces of any size.

use super::events;
use super::wrapped::said;
use firmware_protocol::{Event, Frame, PortDecoder, TextDecoder, sentences};

/// A box of one channel, so that rows are read.
const HELLO: &[u8] = b"PHTWH,1,0,,0.1.0,100000,0001,box,1\nPHTWC,0,1,24,100000,pull";

/// The first byte chooses the form: bytes as they come, or lines that are given `$` and a right checksum.
pub fn body(data: &[u8]) {
    let Some((form, data)) = data.split_first() else { return };
    let wire = if form & 1 == 0 { data.to_vec() } else { [lines(HELLO), lines(data)].concat() };
    let size = usize::from(form >> 1) + 1;

    let (mut whole, mut pieces) = (TextDecoder::new(), TextDecoder::new());
    let at_once = events(&wire, |bytes| whole.next_event(bytes));
    let piecewise: Vec<Event> =
        wire.chunks(size).flat_map(|piece| events(piece, |bytes| pieces.next_event(bytes))).collect();
    assert_eq!(at_once, piecewise, "pieces changed what was decoded");
    assert_eq!((whole.counters(), whole.complaint()), (pieces.counters(), pieces.complaint()));
    at_once.iter().for_each(survives);

    let (mut whole, mut pieces) = (PortDecoder::new(), PortDecoder::new());
    let at_once = events(&wire, |bytes| whole.next_event(bytes));
    let piecewise: Vec<Event> =
        wire.chunks(size).flat_map(|piece| events(piece, |bytes| pieces.next_event(bytes))).collect();
    assert_eq!(at_once, piecewise, "pieces changed what came from the port");
    assert_eq!((whole.form(), whole.counters()), (pieces.form(), pieces.counters()));
}

/// Lines with their `$`, checksum and line end.
fn lines(text: &[u8]) -> Vec<u8> {
    text.split(|byte| *byte == b'\n').flat_map(said).collect()
}

/// A frame that was read gives sentences that are read as the same frame.
fn survives(event: &Event) {
    let Event::Frame(frame) = event else { return };
    let mut fresh = TextDecoder::new();
    let mut read = |wire: &[u8]| events(wire, |bytes| fresh.next_event(bytes));
    match frame {
        // A hello of another major version may hold what ours does not.
        Frame::Hello(hello) if hello.version.0 != 1 => {}
        Frame::Readings(row) => {
            // A row is held until one comes that may follow it.
            let counts: String = row.counts().iter().map(|count| format!(",{count}")).collect();
            let next =
                format!("PHTWR,{},{}{counts}", row.first_row.wrapping_add(1), row.clock_us.wrapping_add(1));
            let wire = [lines(HELLO), written(frame), said(next.as_bytes())].concat();
            let again = read(&wire);
            let Some(Event::Frame(Frame::Readings(read))) = again.get(1) else {
                panic!("a row that does not survive: {row:?}, {again:?}")
            };
            assert_eq!(
                (read.first_row, read.clock_us, read.counts()),
                (row.first_row, row.clock_us, row.counts())
            );
        }
        _ => assert_eq!(read(&written(frame)), [Event::Frame(*frame)], "a frame that does not survive"),
    }
}

fn written(frame: &Frame) -> Vec<u8> {
    sentences(frame).flat_map(|sentence| sentence.as_bytes().to_vec()).collect()
}
