//! The longest of each sentence fits; what is longer or makes no sense is refused, by name, and counted.

use firmware_protocol::{
    CHANNELS_MAX, Complaint, Counters, Dropped, Event, Frame, HelloError, Label, Readings,
    SENTENCE_BYTES_MAX, TextDecoder, sentences,
};

use super::lines::{dropped, hello, line_of, lines, more_text_events, rows, text_events};
use crate::samples::{frames, largest_hello};

#[test]
fn the_longest_sentence_is_a_row_and_fits_exactly() {
    let rows = [i32::MIN; CHANNELS_MAX].repeat(2);
    let row = Frame::Readings(Readings::new(u32::MAX - 1, u32::MAX - 1, 1, CHANNELS_MAX, &rows).unwrap());
    let longest = |frame: &Frame| sentences(frame).map(|sentence| sentence.as_bytes().len()).max().unwrap();
    assert_eq!(longest(&row), SENTENCE_BYTES_MAX + 2);
    assert!(longest(&largest_hello()) < SENTENCE_BYTES_MAX);
    let events = text_events(&[lines(&largest_hello()), lines(&row)].concat());
    assert_eq!(frames(&events)[0], largest_hello());
    assert_eq!(events.len(), 3, "a hello and two rows");
}

#[test]
fn a_line_that_is_too_long_is_dropped_and_the_next_one_is_read() {
    let mut decoder = TextDecoder::new();
    let next = line_of("PHTWG");
    for length in 1..400 {
        let body = format!("PHTWZ,{}", "7".repeat(length));
        let expected =
            if body.len() + 4 > SENTENCE_BYTES_MAX { Dropped::TooLong } else { Dropped::UnknownKind(b'Z') };
        let events = more_text_events(&mut decoder, &[line_of(&body), next.clone()].concat());
        assert_eq!(events, [Event::Dropped(expected), Event::Frame(Frame::Start)], "{length}");
    }
    for _ in 0..200 {
        assert_eq!(more_text_events(&mut decoder, &[b'7'; 8192]), []);
    }
    assert_eq!(more_text_events(&mut decoder, b"\n"), [Event::Dropped(Dropped::TooLong)]);
    // `$` ends it as well: it stands in no sentence but at its start.
    let events = more_text_events(&mut decoder, &[vec![b'7'; 500], next].concat());
    assert_eq!(events, [Event::Dropped(Dropped::TooLong), Event::Frame(Frame::Start)]);
}

/// A decoder holds all its memory itself.
#[test]
fn a_decoder_is_one_small_value() {
    assert!(size_of::<TextDecoder>() <= 800, "{}", size_of::<TextDecoder>());
    assert!(!std::mem::needs_drop::<TextDecoder>());
}

#[test]
fn every_reason_is_named_and_counted() {
    let reason = |counter: fn(&Counters) -> u64, why, damaged| (counter, why, damaged);
    for (line, (counter, why, damaged)) in [
        (b"ready\n".to_vec(), reason(|c| c.not_a_sentence, Dropped::NotASentence, 1)),
        (b"$PHTWG\r\n".to_vec(), reason(|c| c.not_a_sentence, Dropped::NotASentence, 1)),
        (b"$\n".to_vec(), reason(|c| c.not_a_sentence, Dropped::NotASentence, 1)),
        (b"$PHTWG*4G\n".to_vec(), reason(|c| c.not_a_sentence, Dropped::NotASentence, 1)),
        (b"$PHTWG*4B \n".to_vec(), reason(|c| c.not_a_sentence, Dropped::NotASentence, 1)),
        (b"$PHTWG*00\n".to_vec(), reason(|c| c.checksum, Dropped::Checksum { said: 0, right: 0x5C }, 1)),
        (line_of("PHTWG,1"), reason(|c| c.malformed, Dropped::Malformed, 1)),
        (line_of("PHTWGO"), reason(|c| c.malformed, Dropped::Malformed, 1)),
        (line_of("PHTWQ,1"), reason(|c| c.unknown_kind, Dropped::UnknownKind(b'Q'), 0)),
        (line_of("PHTWR,1,2,3"), reason(|c| c.before_hello, Dropped::RowBeforeHello, 0)),
        (line_of("PABCG"), reason(|c| c.other_device, Dropped::OtherDevice { gnss: false }, 0)),
        (line_of("PHTW"), reason(|c| c.other_device, Dropped::OtherDevice { gnss: false }, 0)),
        (line_of("GNRMC,,V,,,,,,,,,,N"), reason(|c| c.gnss, Dropped::OtherDevice { gnss: true }, 0)),
        (vec![b'7'; 200], reason(|c| c.too_long, Dropped::TooLong, 1)),
    ] {
        let mut decoder = TextDecoder::new();
        let events = more_text_events(&mut decoder, &[&line[..], b"\n"].concat());
        let shown = String::from_utf8_lossy(&line);
        assert_eq!(events, [Event::Dropped(why)], "{shown}");
        let counters = decoder.counters();
        assert_eq!((counter(&counters), counters.damaged(), counters.frames), (1, damaged, 0), "{shown}");
    }
}

/// What a GNSS receiver sends is another device's, whichever satellites it listens to.
#[test]
fn gnss_receivers_are_known_by_any_of_three_kinds() {
    let published = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n";
    assert_eq!(dropped(&text_events(published)), [Dropped::OtherDevice { gnss: true }]);
    for (body, gnss) in [("GNRMC,", true), ("BDVTG,", true), ("GPGSV,1", false), ("IIMWV,214.8,R", false)] {
        assert_eq!(dropped(&text_events(&line_of(body))), [Dropped::OtherDevice { gnss }], "{body}");
    }
}

#[test]
fn numbers_out_of_range_and_fields_too_many_or_too_few_are_malformed() {
    let mut decoder = TextDecoder::new();
    more_text_events(&mut decoder, &lines(&hello(1)));
    for body in [
        "PHTWR,1,2",
        "PHTWR,1,2,",
        "PHTWR,1,2,3,",
        "PHTWR,1,2,3,,4",
        "PHTWR,-1,2,3",
        "PHTWR,4294967296,2,3",
        "PHTWR,1,2,2147483648",
        "PHTWR,1,2,-2147483649",
        "PHTWR,1,2,99999999999999999999999999",
        "PHTWR,1,2,--3",
        "PHTWR,1,2,-",
        "PHTWR,1,2,+3",
        "PHTWR,1,2,3.0",
        "PHTWR,1,2, 3",
        "PHTWR,1,2,0x3",
        "PHTWR,1,2,1,2,3,4,5,6,7,8,9",
        "PHTWM,1",
        "PHTWM,1,65536",
        "PHTWS,1,2,3",
        "PHTWS,1,2,3,-32769",
        "PHTWS,1,2,3,4,5",
        "PHTWT,1",
        "PHTWP",
        "PHTWP,x",
        "PHTWC,2,1,24,1000,third",
        "PHTWH,1,0,1,1.2,1000,s,box,1",
        "PHTWH,1,0,1,1.2.3.4,1000,s,box,1",
        "PHTWH,1,0,1,1.2.256,1000,s,box,1",
        "PHTWH,1,0,1,1.2.3,1000,s,box",
        "PHTWH,1,0,1,1.2.3,1000,s,a,box,1",
        "PHTWH,1,0,1,1.2.3,1000,s,a^box,1",
        "PHTWH,1,0,1,1.2.3,1000,s,b\tx,1",
    ] {
        let hello = lines(&hello(1));
        let table = hello.split_inclusive(|byte| *byte == b'\n').next().unwrap();
        let events = more_text_events(&mut decoder, &[table, &line_of(body)].concat());
        assert_eq!(events, [Event::Dropped(Dropped::Malformed)], "{body}");
    }
}

#[test]
fn a_hello_that_makes_no_sense_is_refused_with_what_and_where() {
    let head = |rate: u32, channels: u32| line_of(&format!("PHTWH,1,0,,1.2.3,{rate},s,box,{channels}"));
    let channel = |index: u32, bits: u32, rate: u32, name: &str| {
        line_of(&format!("PHTWC,{index},1,{bits},{rate},{name}"))
    };
    let long = "a name too long";
    for (sent, error) in [
        (vec![head(1000, 0)], HelloError::ChannelCount { count: 0 }),
        (vec![head(1000, 9)], HelloError::ChannelCount { count: 9 }),
        (vec![head(0, 1), channel(0, 12, 1, "pull")], HelloError::RowRateZero),
        (vec![head(1, 1), channel(0, 33, 1, "pull")], HelloError::AdcBits { index: 0, bits: 33 }),
        (vec![head(1, 1), channel(0, 12, 0, "pull")], HelloError::ChannelRateZero { index: 0 }),
        (vec![head(1, 1), channel(0, 12, 1, "")], HelloError::ChannelName { index: 0 }),
        (vec![head(1, 1), channel(0, 12, 1, long)], HelloError::ChannelName { index: 0 }),
        (
            vec![head(1, 2), channel(1, 12, 1, "pull"), channel(0, 12, 1, "pull")],
            HelloError::SameChannelName { index: 1 },
        ),
    ] {
        let events = text_events(&sent.concat());
        assert_eq!(events, [Event::Dropped(Dropped::Hello(error))]);
    }
}

/// Channels may come in any order and between rows; one that is missing waits for the next hello.
#[test]
fn a_hello_is_whole_once_every_channel_came() {
    let sent: Vec<Vec<u8>> = sentences(&hello(3)).map(|sentence| sentence.as_bytes().to_vec()).collect();
    let row = |number: u32| line_of(&format!("PHTWR,{number},{},1,2", 10_000 * number));
    let mut decoder = TextDecoder::new();
    let mut say = |parts: &[&[u8]]| more_text_events(&mut decoder, &parts.concat());
    assert_eq!(say(&[&sent[1], &sent[0], &sent[2], &sent[2]]), []);
    assert_eq!(say(&[&sent[0], &sent[2], &row(0), &sent[1]]).len(), 2, "an early row and the hello");
    assert_eq!(rows(&say(&[&row(1), &sent[0], &row(2), &sent[1], &row(3)])).len(), 3);
    assert_eq!(say(&[&sent[2]]), [Event::Frame(hello(3))]);
    // Without a new head a line of the table says nothing.
    assert_eq!(say(&[&sent[1], &sent[2]]), []);
}

/// Another major version may add fields at the end of a hello and of its lines, and is read to be refused.
#[test]
fn a_hello_of_another_major_version_is_read() {
    let sent = [line_of("PHTWH,2,7,1,1.2.3,1000,s,box,1,more"), line_of("PHTWC,0,1,12,1,pull,more")].concat();
    let [Event::Frame(Frame::Hello(hello))] = text_events(&sent)[..] else { panic!("no hello") };
    assert_eq!((hello.version, hello.name.as_str(), hello.channels().len()), ((2, 7), "box", 1));
}

/// What the text form does not have gives no sentence.
#[test]
fn what_has_no_sentence_gives_none() {
    for name in ["a,b", "a*b", "a$b", "a!b", "a\\b", "a^b", "a~b"] {
        let Frame::Hello(mut hello) = hello(1) else { panic!("a hello") };
        hello.name = Label::new(name).unwrap();
        assert_eq!(sentences(&Frame::Hello(hello)).count(), 0, "{name}");
    }
    assert_eq!(sentences(&Frame::Rate { row_rate_mhz: 1 }).count(), 0);
}

/// For the person who writes a box's program: what was the matter with the last sentence of ours.
#[test]
fn the_last_complaint_is_kept() {
    let mut decoder = TextDecoder::new();
    assert_eq!(decoder.complaint(), None);
    more_text_events(&mut decoder, b"hello\n$GPRMC*00\n");
    assert_eq!(decoder.complaint(), None);
    for (line, letter, why) in [
        (b"$PHTWG*00\n".to_vec(), Some(b'G'), Dropped::Checksum { said: 0, right: 0x5C }),
        (b"$PHTW\n".to_vec(), None, Dropped::NotASentence),
        (line_of("PHTWR,1"), Some(b'R'), Dropped::Malformed),
    ] {
        more_text_events(&mut decoder, &line);
        assert_eq!(decoder.complaint(), Some(Complaint { letter, why }));
    }
}

/// Found by fuzzing: a line that is too long was said to be ours only if it came in pieces.
#[test]
fn a_line_that_is_too_long_is_known_by_its_beginning_in_any_pieces() {
    let line = [b"$PHTWR,".to_vec(), vec![b'7'; 400], b"\n".to_vec()].concat();
    for size in [1, 7, 100, 1000] {
        let mut decoder = TextDecoder::new();
        line.chunks(size).for_each(|piece| drop(more_text_events(&mut decoder, piece)));
        let expected = Complaint { letter: Some(b'R'), why: Dropped::TooLong };
        assert_eq!(decoder.complaint(), Some(expected), "pieces of {size}");
    }
}
