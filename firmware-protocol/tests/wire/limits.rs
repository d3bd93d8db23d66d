//! The largest frame of each kind fits, and what is larger or makes no sense is refused.

use firmware_protocol::{
    BODY_BYTES_MAX, CHANNELS_MAX, COUNTS_MAX, ChannelKind, Dropped, Event, FRAME_BYTES_MAX, Frame, Label,
    LabelError, Readings, ReadingsError,
};

use crate::samples::{body, events, frames, largest_hello, one_of_each, wire, wire_of};

#[test]
fn the_largest_hello_fits() {
    let bytes = wire(&largest_hello());
    assert_eq!(frames(&events(&bytes)), vec![largest_hello()]);
    // Before the labels; labels; table; CRC: the figure in the README's table of limits.
    assert_eq!(body(&bytes).len(), 14 + 17 + 25 + (1 + 8 * 19) + 4);
    assert_eq!(body(&bytes).len(), 213);
}

#[test]
fn readings_fit_up_to_their_bounds_and_not_beyond() {
    const ROOM: usize = BODY_BYTES_MAX - 15 - 4;
    assert_eq!(COUNTS_MAX, ROOM / 4);
    for channels in 1..=CHANNELS_MAX {
        let rows = COUNTS_MAX / channels;
        let counts = vec![i32::from_le_bytes([1; 4]); rows * channels];
        let frame = Frame::Readings(Readings::new(0, 0, 1, channels, &counts).unwrap());
        let bytes = wire(&frame);
        assert!(bytes.len() <= FRAME_BYTES_MAX);
        assert_eq!(frames(&events(&bytes)), vec![frame]);
        let too_many = vec![0; (rows + 1) * channels];
        assert_eq!(Readings::new(0, 0, 1, channels, &too_many), Err(ReadingsError::Rows));
    }
}

#[test]
fn readings_that_make_no_sense_cannot_be_made() {
    assert_eq!(Readings::new(0, 0, 1, 0, &[1]), Err(ReadingsError::Channels));
    assert_eq!(Readings::new(0, 0, 1, 9, &[1; 9]), Err(ReadingsError::Channels));
    assert_eq!(Readings::new(0, 0, 1, 2, &[]), Err(ReadingsError::Rows));
    assert_eq!(Readings::new(0, 0, 1, 2, &[1; 3]), Err(ReadingsError::Rows));
    assert_eq!(Readings::new(0, 0, 0, 2, &[1; 2]), Err(ReadingsError::Interval));
}

#[test]
fn readings_that_make_no_sense_are_refused_from_the_wire() {
    let content = |channels: u8, rows: u8, interval_us: u32, count_bytes: usize| {
        let mut content = vec![0x02, 1, 0, 0, 0, 2, 0, 0, 0];
        content.extend(interval_us.to_le_bytes());
        content.extend([channels, rows]);
        content.resize(15 + count_bytes, 0x11);
        events(&wire_of(&content))
    };
    assert_eq!(frames(&content(2, 3, 1000, 24)).len(), 1);
    for (channels, rows, interval_us, count_bytes) in [
        (0, 3, 1000, 0),
        (2, 0, 1000, 0),
        (0, 0, 1000, 0),
        (9, 1, 1000, 36),
        (255, 1, 1000, 235),
        (255, 255, 1000, 235),
        (1, 59, 1000, 236 - 1),
        (2, 3, 0, 24),
        (2, 3, 1000, 23),
        (2, 3, 1000, 25),
        (2, 3, 1000, 0),
        (3, 2, 1000, 28),
    ] {
        let got = content(channels, rows, interval_us, count_bytes);
        assert_eq!(got, vec![Event::Dropped(Dropped::Malformed)], "{channels} x {rows}, {count_bytes} bytes");
    }
}

#[test]
fn rows_come_back_as_rows() {
    let readings = Readings::new(7, 8, 9, 3, &[1, 2, 3, 4, 5, 6]).unwrap();
    assert_eq!(readings.rows().collect::<Vec<_>>(), vec![&[1, 2, 3][..], &[4, 5, 6]]);
    assert_eq!((readings.row_count(), readings.channel_count()), (2, 3));
}

/// A known kind has one length: one byte more or less and it is no frame.
#[test]
fn every_kind_has_exactly_its_length() {
    for frame in one_of_each() {
        let whole = body(&wire(&frame));
        let content = &whole[..whole.len() - 4];
        assert_eq!(frames(&events(&wire_of(content))), vec![frame]);
        let longer = [content, &[1]].concat();
        assert_eq!(frames(&events(&wire_of(&longer))), vec![], "{frame:?}");
        let shorter = &content[..content.len() - 1];
        assert_eq!(frames(&events(&wire_of(shorter))), vec![], "{frame:?}");
    }
}

#[test]
fn a_rate_of_zero_and_an_unknown_mark_source_are_refused() {
    let malformed = vec![Event::Dropped(Dropped::Malformed)];
    assert_eq!(events(&wire_of(&[0x44, 0, 0, 0, 0])), malformed);
    assert_eq!(events(&wire_of(&[0x03, 1, 2, 3, 4, 2, 1, 0])), malformed);
}

#[test]
fn labels_hold_printable_ascii_of_bounded_length() {
    assert_eq!(Label::<4>::new("abcd").map(|l| l.as_str().len()), Ok(4));
    assert_eq!(Label::<4>::new("abcde"), Err(LabelError::TooLong { max: 4 }));
    assert_eq!(Label::<4>::from_bytes(&[0x41; 300]), Err(LabelError::TooLong { max: 4 }));
    for byte in 0u8..=255 {
        let label = Label::<1>::from_bytes(&[byte]);
        assert_eq!(label.is_ok(), (0x20..=0x7E).contains(&byte), "{byte}");
    }
    assert_eq!(LabelError::NotPrintable { byte: 7 }.to_string(), "byte 0x07 is not printable ASCII");
    assert_eq!(Label::<4>::default().as_str(), "");
}

/// A code of a channel kind always comes back as itself, known or not.
#[test]
fn channel_kinds_keep_their_code() {
    for code in 0..=255 {
        assert_eq!(ChannelKind::from_code(code).code(), code);
        assert_eq!(matches!(ChannelKind::from_code(code), ChannelKind::Other(_)), !(1..=12).contains(&code));
    }
}
