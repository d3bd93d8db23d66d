//! Hellos that make no sense are refused with what and where; newer versions are told apart.

use firmware_protocol::{Channel, Dropped, Event, Frame, Hello, HelloError, Label, LabelError};

use crate::samples::{body, channel, events, frames, wire, wire_of};
use firmware_protocol::ChannelKind::{Depth, Pull};

/// Content of a hello: version, boot, firmware, row rate, "S", "box", then this table.
fn content(version: (u8, u8), row_rate_mhz: u32, table: &[u8]) -> Vec<u8> {
    let mut content = vec![0x01, version.0, version.1, 7, 0, 0, 0, 1, 2, 3];
    content.extend(row_rate_mhz.to_le_bytes());
    content.extend(b"\x01S\x03box");
    content.extend(table);
    content
}

fn row(bits: u8, rate: u8, name: &[u8]) -> Vec<u8> {
    [&[1, bits, rate, 0, 0, 0, u8::try_from(name.len()).unwrap()], name].concat()
}

fn table(rows: &[Vec<u8>]) -> Vec<u8> {
    [vec![u8::try_from(rows.len()).unwrap()], rows.concat()].concat()
}

fn refused(content: &[u8]) -> HelloError {
    match events(&wire_of(content))[..] {
        [Event::Dropped(Dropped::Hello(error))] => error,
        ref other => panic!("{other:?}"),
    }
}

#[test]
fn the_hello_used_here_is_right_until_it_is_spoilt() {
    let good = content((1, 0), 1000, &table(&[row(12, 1, b"pull"), row(12, 1, b"tail")]));
    assert_eq!(frames(&events(&wire_of(&good))).len(), 1);
}

#[test]
fn absurd_tables_are_refused_with_what_and_where() {
    let pull = || row(12, 1, b"pull");
    let nine: Vec<Vec<u8>> = (b'a'..=b'i').map(|name| row(12, 1, &[name])).collect();
    for (rows, error) in [
        (vec![], HelloError::ChannelCount { count: 0 }),
        (nine, HelloError::ChannelCount { count: 9 }),
        (vec![row(0, 1, b"pull")], HelloError::AdcBits { index: 0, bits: 0 }),
        (vec![pull(), row(33, 1, b"tail")], HelloError::AdcBits { index: 1, bits: 33 }),
        (vec![pull(), row(12, 0, b"tail")], HelloError::ChannelRateZero { index: 1 }),
        (vec![pull(), row(12, 1, b"")], HelloError::ChannelName { index: 1 }),
        (vec![pull(), row(12, 1, b"a name too long")], HelloError::ChannelName { index: 1 }),
        (vec![pull(), row(12, 1, b"t\xC3\xA4l")], HelloError::ChannelName { index: 1 }),
        (vec![pull(), row(12, 1, b"t\nl")], HelloError::ChannelName { index: 1 }),
        (vec![pull(), row(12, 1, b"tail"), pull()], HelloError::SameChannelName { index: 2 }),
    ] {
        assert_eq!(refused(&content((1, 0), 1000, &table(&rows))), error);
        assert!(!error.to_string().is_empty());
    }
    assert_eq!(refused(&content((1, 0), 1000, &[255])), HelloError::ChannelCount { count: 255 });
    assert_eq!(refused(&content((1, 0), 0, &table(&[pull()]))), HelloError::RowRateZero);
    assert_eq!(refused(&content((1, 0), 1000, &[2, 1])), HelloError::Length);
    assert_eq!(refused(&[0x01]), HelloError::Length);
    let mut bell_in_serial = content((1, 0), 1000, &table(&[pull()]));
    bell_in_serial[15] = 7;
    assert_eq!(refused(&bell_in_serial), HelloError::BoxLabel(LabelError::NotPrintable { byte: 7 }));
}

/// The same limits hold where a hello is made.
#[test]
fn a_hello_that_would_be_refused_cannot_be_made() {
    let make =
        |rate, table: &[Channel]| Hello::new(1, (0, 0, 1), rate, Label::default(), Label::default(), table);
    let good = [channel("pull", Pull), channel("depth", Depth)];
    assert!(make(1000, &good).is_some());
    assert!(make(0, &good).is_none());
    assert!(make(1000, &[]).is_none());
    assert!(make(1000, &[channel("pull", Pull); 2]).is_none());
    assert!(make(1000, &[channel("pull", Pull); 300]).is_none());
    assert!(make(1000, &[Channel { adc_bits: 33, ..good[0] }]).is_none());
    assert!(make(1000, &[Channel { rate_mhz: 0, ..good[0] }]).is_none());
    assert!(make(1000, &[Channel { name: Label::default(), ..good[0] }]).is_none());
}

/// A newer minor version's hello is read as it is; its version is handed over.
#[test]
fn a_newer_minor_version_is_read() {
    let hello = content((1, 9), 1000, &table(&[row(12, 1, b"pull")]));
    let [Frame::Hello(hello)] = frames(&events(&wire_of(&hello)))[..] else { panic!() };
    assert_eq!(hello.version, (1, 9));
    assert_eq!(hello.channels().len(), 1);
}

/// Another major version's hello is handed over for its version, whatever follows the channel table;
/// within our own major version nothing may follow it.
#[test]
fn another_major_version_is_handed_over_with_its_name() {
    for more in [&[][..], &[1, 2, 3]] {
        let rows = table(&[row(12, 1, b"pull")]);
        let newer = [&content((2, 0), 1000, &rows), more].concat();
        let [Frame::Hello(hello)] = frames(&events(&wire_of(&newer)))[..] else { panic!() };
        assert_eq!((hello.version, hello.name.as_str()), ((2, 0), "box"));
    }
    let longer = [content((1, 9), 1000, &table(&[row(12, 1, b"pull")])), vec![1]].concat();
    assert_eq!(refused(&longer), HelloError::Length);
}

/// Frames of kinds that a later minor version may add are skipped and counted; the rest is read.
#[test]
fn unknown_kinds_are_skipped() {
    let known = Frame::Ping { token: 1 };
    for kind in (0x06..=0x40).chain(0x45..=0xFF) {
        let mut bytes = wire_of(&[kind, 1, 2, 3]);
        bytes.extend(wire(&known));
        let got = events(&bytes);
        assert_eq!(got, vec![Event::Dropped(Dropped::UnknownKind(kind)), Event::Frame(known)]);
    }
    assert_eq!(body(&wire(&known)).len(), 9);
}
