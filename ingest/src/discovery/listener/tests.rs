use super::*;
use crate::script::{self, bytes};
use crate::session::{NotABox, StartUnasked};
use firmware_protocol::{Event, Frame, PortDecoder, sentences};

fn listener() -> Listener {
    Listener::new(Session::new(StartUnasked::IfHeard, Instant::now()))
}

/// What is said of a port that brought these bytes, piece by piece.
fn found(pieces: &[&[u8]]) -> NotABox {
    let mut listener = listener();
    for piece in pieces {
        listener.take(piece, Instant::now());
    }
    NotABox::of(&listener.session.handshake, 9600)
}

fn hello() -> Vec<u8> {
    let mut hello = script::hello(1);
    hello.row_rate_mhz = 100_000;
    bytes(&Frame::Hello(hello))
}

fn rows(first: u32, counts: &[i32]) -> Vec<u8> {
    let clock_us = first.wrapping_mul(10_000);
    bytes(&Frame::Readings(Readings::new(first, clock_us, 10_000, 2, counts).unwrap()))
}

#[test]
fn rows_are_kept_by_channel_and_lost_ones_counted() {
    let mut listener = listener();
    listener.take(&hello(), Instant::now());
    listener.take(&rows(0, &[1, 2]), Instant::now());
    assert_eq!((listener.session.handshake.frames(), listener.rows()), (2, 0), "none before it begins");
    listener.begin();
    listener.take(&rows(5, &[10, 20, 11, 21]), Instant::now());
    listener.take(&rows(9, &[12, 22]), Instant::now());
    listener.take(&rows(9, &[12, 22]), Instant::now());
    let mut damaged = rows(10, &[13, 23]);
    damaged[6] ^= 4;
    listener.take(&damaged, Instant::now());
    listener.take(&rows(11, &[14, 24]), Instant::now());
    let sample = listener.end();
    assert_eq!(sample.counts, [[10, 11, 12, 14], [20, 21, 22, 24]]);
    assert_eq!((sample.rows_lost, sample.gaps, sample.frames_damaged), (3, 2, 1));
    assert_eq!(sample.statistics(0).unwrap().mean, 11.75);
    assert_eq!(listener.session.form(), Some(Form::Binary));
}

/// The sentence is printed in most descriptions of NMEA 0183 (from memory).
#[test]
fn a_receiver_is_told_from_text_and_from_noise() {
    let sentence = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n";
    let (first, second) = sentence.split_at(17);
    let says = |pieces: &[&[u8]], is_a_receiver: bool, part: &str| match found(pieces) {
        NotABox::Other { is_gnss, likely_cause } => {
            assert!(is_gnss == is_a_receiver && likely_cause.contains(part), "{likely_cause}")
        }
        other => panic!("{other:?}"),
    };
    says(&[first], false, "baud rate (now 9600)");
    says(&[first, second], true, "GNSS receiver");
    says(&[b"$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K\r\n$GPVTG,054"], false, "without checksums");
    says(&[b"pull 12 depth 13\r\n"], false, "lines of text");
    says(&[&[0x81; 60]], false, "baud rate (now 9600)");
    assert_eq!(found(&[]), NotABox::Silent);
}

/// A hello and rows as a box prints them.
#[test]
fn a_box_that_prints_is_heard_as_one_that_sends_frames() {
    let (mut frames, mut text) = (listener(), listener());
    let mut both = |bytes: &[u8]| {
        frames.take(bytes, Instant::now());
        let mut decoder = PortDecoder::new();
        let mut rest = bytes;
        while let Some(event) = decoder.next_event(&mut rest) {
            let Event::Frame(frame) = event else { panic!("{event:?}") };
            sentences(&frame).for_each(|sentence| text.take(sentence.as_bytes(), Instant::now()));
        }
        frames.begin();
        text.begin();
    };
    both(&hello());
    let mut both = |bytes: Vec<u8>, frame: Frame| {
        frames.take(&bytes, Instant::now());
        sentences(&frame).for_each(|sentence| text.take(sentence.as_bytes(), Instant::now()));
    };
    for first in [0, 1, 2, 5, 6] {
        let readings = Readings::new(first, first * 10_000, 10_000, 2, &[first as i32, 7]).unwrap();
        both(bytes(&Frame::Readings(readings)), Frame::Readings(readings));
    }
    assert_eq!(text.session.form(), Some(Form::Text));
    let (frames, text) = (frames.end(), text.end());
    assert_eq!(text.counts, [[0, 1, 2, 5, 6], [7; 5]]);
    assert_eq!((&text, text.rows_lost), (&frames, 2));
}

#[test]
fn no_bytes_panic() {
    use rand::{Rng, SeedableRng};
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
    let mut listener = listener();
    listener.take(&hello(), Instant::now());
    listener.begin();
    for _ in 0..2_000 {
        let mut noise = [0; 97];
        rng.fill_bytes(&mut noise);
        listener.take(&noise, Instant::now());
    }
    assert_eq!(listener.end().rows(), 0);
}

/// A hello that makes no sense: refused by what is wrong with it, but not once the box has said a good one.
#[test]
fn a_hello_that_makes_no_sense_is_refused_by_name_unless_a_good_one_came() {
    let mut nonsense = script::hello(1);
    nonsense.row_rate_mhz = 0;
    let nonsense = bytes(&Frame::Hello(nonsense));
    let NotABox::Refused(refusal) = found(&[&nonsense]) else { panic!("not refused") };
    assert!(refusal.to_string().contains("row rate 0"), "{refusal}");
    let mut listener = listener();
    listener.take(&hello(), Instant::now());
    listener.take(&nonsense, Instant::now());
    assert_eq!(listener.session.handshake.refusal, None);
    assert!(listener.session.handshake.hello.is_some());
}

/// Rows of another width than the hello says are not the channels that were asked for; after a boot the numbers
/// begin anew.
#[test]
fn a_sample_keeps_no_rows_of_another_width_and_counts_a_boot() {
    let mut listener = listener();
    listener.take(&hello(), Instant::now());
    listener.begin();
    listener.take(&rows(50, &[1, 2]), Instant::now());
    let narrow = Readings::new(51, 510_000, 10_000, 1, &[9]).unwrap();
    listener.take(&bytes(&Frame::Readings(narrow)), Instant::now());
    let mut booted = script::hello(2);
    booted.row_rate_mhz = 100_000;
    listener.take(&bytes(&Frame::Hello(booted)), Instant::now());
    listener.take(&rows(0, &[3, 4]), Instant::now());
    let sample = listener.end();
    assert_eq!(sample.counts, [[1, 3], [2, 4]]);
    assert_eq!((sample.restarts, sample.rows_lost, sample.gaps), (1, 0, 0));
}

/// However long a sample is asked for: what is over two million rows is as if it had not come, and takes no memory.
#[test]
fn a_sample_is_bounded() {
    const FRAME_ROWS: usize = 25;
    let mut listener = listener();
    listener.take(&hello(), Instant::now());
    listener.begin();
    for frame in 0..(SAMPLE_ROWS_MAX / FRAME_ROWS + 5) as u32 {
        listener.take(&rows(frame * FRAME_ROWS as u32, &[7; 2 * FRAME_ROWS]), Instant::now());
    }
    let sample = listener.end();
    assert!((SAMPLE_ROWS_MAX..SAMPLE_ROWS_MAX + FRAME_ROWS).contains(&sample.rows()), "{}", sample.rows());
    assert_eq!((sample.rows_lost, sample.gaps), (0, 0));
}
