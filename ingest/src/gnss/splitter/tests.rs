use super::*;
use proptest::prelude::*;

/// Examples that are printed in many descriptions of NMEA 0183, with their checksums.
const PRINTED: [&str; 6] = [
    "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
    "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
    "$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*48",
    "$GPGSA,A,3,04,05,,09,12,,,24,,,,,2.5,1.3,2.1*39",
    "$GPGSV,2,1,08,01,40,083,46,02,17,308,41,12,07,344,39,14,22,228,45*75",
    "$GPVTG,,,,,,,,,N*30",
];

/// Found on a receiver whose checksums were off: the recorder asked for another baud rate.
#[test]
fn sentences_without_checksums_are_told_from_damaged_ones() {
    for sentence in PRINTED {
        let bare = sentence.rsplit_once('*').unwrap().0;
        assert!(lacks_checksum(bare.as_bytes()), "{bare}");
        assert!(!lacks_checksum(sentence.as_bytes()), "{sentence}");
        let damaged = bare.replace(',', "\u{3}");
        assert!(!lacks_checksum(damaged.as_bytes()) && !lacks_checksum(&bare.as_bytes()[1..]));
    }
    let bare = PRINTED.map(|sentence| sentence.rsplit_once('*').unwrap().0).join("\r\n") + "\r\n";
    let (found, counters) = split(bare.as_bytes(), 7);
    let expected = LineCounters { bad_checksums: 6, without_checksum: 6, ..LineCounters::default() };
    assert_eq!((found.len(), counters), (0, expected));
}

fn split(bytes: &[u8], piece: usize) -> (Vec<String>, LineCounters) {
    let mut splitter = Splitter::default();
    let mut found = Vec::new();
    for piece in bytes.chunks(piece) {
        splitter.take(piece, |body| found.push(body.to_owned()));
    }
    (found, splitter.counters())
}

#[test]
fn printed_examples_have_the_printed_checksums() {
    let text: String = PRINTED.iter().map(|line| format!("{line}\r\n")).collect();
    for piece in [1, 7, 1000] {
        let (found, counters) = split(text.as_bytes(), piece);
        assert_eq!(found.len(), PRINTED.len());
        assert!(found.iter().zip(PRINTED).all(|(body, line)| line.get(1..line.len() - 3) == Some(body)));
        assert_eq!(counters, LineCounters { sentences: 6, ..LineCounters::default() });
    }
    assert!(checked_body(b"$GPVTG,,,,,,,,,N*30 ").is_none());
    assert!(checked_body(b"$GPVTG,,,,,,,,,N*3").is_none());
    assert!(checked_body(b"$GPVTG,,,,,,,,,N").is_none());
    // A hexadecimal digit is one, not what a number parser also takes.
    assert!(checked_body(b"$\x05*+5").is_none() && checked_body(b"$ABAF*+5").is_none());
}

#[test]
fn a_wrong_bit_in_a_printed_example_is_always_counted_and_never_read() {
    for line in PRINTED {
        for bit in 0..line.len() * 8 {
            let mut bytes = format!("{line}\r\n{}\r\n", PRINTED[0]).into_bytes();
            bytes[bit / 8] ^= 1 << (bit % 8);
            let (found, counters) = split(&bytes, 64);
            // Lower case checksums are right ones.
            let case_only = found.len() == 2 && bit / 8 >= line.len() - 2 && bit % 8 == 5;
            let damaged = counters.bad_checksums + counters.not_sentences;
            assert!(case_only || (found.len() == 1 && (1..=2).contains(&damaged)), "{line} {bit}: {found:?}");
            assert_eq!(found.last().map(String::as_str), PRINTED[0].get(1..PRINTED[0].len() - 3));
        }
    }
}

#[test]
fn a_sentence_cut_off_and_a_line_without_end_are_counted_and_the_next_is_read() {
    let (found, counters) = split(b"9,N*47\r\n$GPRMC,1235$GPVTG,,,,,,,,,N*30\r\n", 5);
    assert_eq!(found, ["GPVTG,,,,,,,,,N"]);
    let expected =
        LineCounters { sentences: 1, bad_checksums: 1, not_sentences: 1, ..LineCounters::default() };
    assert_eq!(counters, expected);
    let endless = [b"$GPRMC,".to_vec(), vec![b'9'; 70_000], b"$GPVTG,,,,,,,,,N*30\n".to_vec()].concat();
    let (found, counters) = split(&endless, 64);
    assert_eq!((found.len(), counters.too_long, counters.bad_checksums), (1, 1, 0));
}

proptest! {
    #[test]
    fn pieces_do_not_matter_and_memory_is_bounded(
        bytes in proptest::collection::vec(prop_oneof![Just(b'$'), Just(b'\n'), any::<u8>()], 0..600), piece in 1usize..40,
    ) {
        prop_assert_eq!(split(&bytes, piece), split(&bytes, 1000));
        let mut splitter = Splitter::default();
        splitter.take(&bytes, |_| {});
        prop_assert!(splitter.line.len() <= LINE_BYTES_MAX);
    }
}

/// A checksum of one byte fits by chance: what no receiver prints is no sentence.
#[test]
fn a_sentence_with_a_sign_that_is_not_printed_is_none() {
    for sign in [b'\x07', b'\x7f', b'\xb0', b'*'] {
        let body = [b"GPVTG,", &[sign][..], b",N"].concat();
        let sum = body.iter().fold(0, |sum, byte| sum ^ byte);
        let line = [b"$", &body[..], format!("*{sum:02X}").as_bytes()].concat();
        assert_eq!(checked_body(&line), None, "{sign}");
    }
    assert_eq!(checked_body(b"$GPVTG,,,,,,,,,N*30"), Some("GPVTG,,,,,,,,,N"));
}
