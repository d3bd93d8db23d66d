use super::*;

fn received(host_us: u64, length: usize) -> Record {
    let mut bytes = vec![1; length];
    *bytes.last_mut().unwrap() = 0;
    Record { host_us, what: WireEvent::Received(bytes) }
}

fn push(ring: &mut LookBack, number: usize, record: Record) {
    ring.push(number, record, SoFar::default(), (None, None));
}

#[test]
fn noise_is_bounded_and_counted_where_it_was_and_the_hello_stays() {
    let mut ring = LookBack::default();
    push(&mut ring, 0, Record { host_us: 1, what: WireEvent::PortOpened("port".to_owned()) });
    (2..10_000).for_each(|host_us| push(&mut ring, 0, received(host_us, 4096)));
    push(&mut ring, 1, received(10_000, 7));
    ring.push(0, received(10_001, 100), SoFar::default(), (Some(vec![7; 30]), Some(Form::Binary)));
    (10_002..20_000).for_each(|host_us| push(&mut ring, 0, received(host_us, 1000)));
    let records = ring.of_run(20_000, 2);
    assert!(records.is_sorted_by_key(|(_, record)| record.host_us));
    let of_port = |port| records.iter().filter(move |(number, _)| *number == port).map(|(_, record)| record);
    let started = Record { host_us: 20_000, what: WireEvent::Started };
    assert_eq!(of_port(1).collect::<Vec<_>>(), [&received(10_000, 7), &started]);
    let weight_bytes: usize = of_port(0).map(Record::weight_bytes).sum();
    assert!((BYTES_MAX * 9 / 10..BYTES_MAX + 2000).contains(&weight_bytes), "{weight_bytes}");
    let head: Vec<_> = of_port(0).take(3).map(|record| &record.what).collect();
    assert_eq!(head[0], &WireEvent::PortOpened("port".to_owned()));
    assert_eq!(head[1], &WireEvent::Known(vec![7; 30]));
    let kept: u64 = of_port(0)
        .map(|record| if let WireEvent::Received(bytes) = &record.what { bytes.len() as u64 } else { 0 })
        .sum();
    assert!(matches!(head[2], WireEvent::Lost { .. }), "{head:?}");
    let WireEvent::Lost { bytes } = head[2] else { return };
    // The bytes of the first one that is kept go up to the end of a frame.
    let all = 9998 * 4096 + 100 + 9998 * 1000;
    assert!((bytes + kept..=bytes + kept + 1000).contains(&all), "{bytes} + {kept} of {all}");
}

#[test]
fn what_is_old_goes_and_is_not_lost_and_an_opening_ends_what_a_run_begins_with() {
    let mut ring = LookBack::default();
    push(&mut ring, 0, Record { host_us: 0, what: WireEvent::PortOpened("port".to_owned()) });
    for second in 1..100u64 {
        let line = WireEvent::Received(format!("{second},1\n{second},2\n{second},").into_bytes());
        push(&mut ring, 0, Record { host_us: second * 1_000_000, what: line });
    }
    let began: Vec<_> = ring.of_run(94_000_000, 1).into_iter().map(|(_, record)| record).collect();
    assert_eq!(began[0].what, WireEvent::PortOpened("port".to_owned()));
    assert_eq!(
        began[1],
        Record { host_us: 87_000_000, what: WireEvent::Received(b"87,2\n87,".to_vec()) },
        "from the first whole line on"
    );
    let started = began.iter().position(|record| record.what == WireEvent::Started);
    assert_eq!((started, began.len()), (Some(9), 15));
    assert_eq!(ring.since_us(), 86_000_001);
    assert_eq!(ring.free_us(94_000_000), 93_999_999);
    // Out and in again in the look-back.
    push(&mut ring, 0, Record { host_us: 99_100_000, what: WireEvent::PortGone("out".to_owned()) });
    push(&mut ring, 0, Record { host_us: 99_200_000, what: WireEvent::PortOpened("again".to_owned()) });
    push(&mut ring, 0, Record { host_us: 99_300_000, what: WireEvent::Received(b"5,1\n".to_vec()) });
    let began: Vec<_> = ring.of_run(99_250_000, 1).into_iter().map(|(_, record)| record.what).collect();
    let whole = WireEvent::Received(b"5,1\n".to_vec());
    assert_eq!(began, [WireEvent::PortOpened("again".to_owned()), WireEvent::Started, whole]);
}

/// Found: the first bytes that are kept are cut, as they may begin in the middle of a frame; where the hello of the
/// box was in them, the run knew of no hello, and the next boot passed for the first one.
#[test]
fn a_hello_in_the_bytes_that_are_cut_off_stays_known() {
    let mut ring = LookBack::default();
    push(&mut ring, 0, Record { host_us: 0, what: WireEvent::PortOpened("port".to_owned()) });
    let half = Record { host_us: 1_000_000, what: WireEvent::Received(vec![1; 30]) };
    ring.push(0, half, SoFar::default(), (None, Some(Form::Binary)));
    ring.push(0, received(2_000_000, 30), SoFar::default(), (Some(vec![7; 30]), Some(Form::Binary)));
    (3..15).for_each(|second| push(&mut ring, 0, received(second * 1_000_000 - 500_000, 30)));
    let began: Vec<_> = ring.of_run(9_000_000, 1).into_iter().map(|(_, record)| record.what).collect();
    let head = [
        WireEvent::PortOpened("port".to_owned()),
        WireEvent::Known(vec![7; 30]),
        WireEvent::Received(vec![]),
    ];
    assert_eq!(began[..3], head);
    assert_eq!(began.iter().filter(|what| matches!(what, WireEvent::Known(_))).count(), 1);
}

fn events(ring: &LookBack, at_us: u64) -> Vec<WireEvent> {
    ring.of_run(at_us, 1).into_iter().map(|(_, record)| record.what).collect()
}

fn received_bytes(events: &[WireEvent]) -> u64 {
    let bytes = |event: &WireEvent| if let WireEvent::Received(bytes) = event { bytes.len() } else { 0 };
    events.iter().map(|event| bytes(event) as u64).sum()
}

#[test]
fn a_port_without_a_hello_keeps_little_and_what_it_lost_is_counted_to_the_byte_and_forgotten() {
    let noisy = || {
        let mut ring = LookBack::default();
        for host_us in 2..202 {
            ring.push(0, received(host_us, 4096), SoFar::default(), (None, Some(Form::Binary)));
        }
        ring
    };
    let began = events(&noisy(), 300);
    let kept = received_bytes(&began);
    assert!((200_000..UNKNOWN_BYTES_MAX as u64).contains(&kept), "{kept}");
    assert_eq!(began[0], WireEvent::Lost { bytes: 200 * 4096 - kept });
    // A step of the clock, or another opening, stands between the loss and the run.
    let step = WireEvent::ClockStep { step_us: 5 };
    for (broken, begins) in [
        (step, None),
        (WireEvent::PortOpened("again".to_owned()), Some(WireEvent::PortOpened("again".to_owned()))),
    ] {
        let mut ring = noisy();
        push(&mut ring, 0, Record { host_us: 400, what: broken });
        push(&mut ring, 0, Record { host_us: 500, what: WireEvent::Received(vec![1, 0, 2, 0]) });
        let whole = Some(WireEvent::Received(vec![1, 0, 2, 0]));
        let expected = [begins, whole, Some(WireEvent::Started)];
        assert_eq!(events(&ring, 600), expected.into_iter().flatten().collect::<Vec<_>>());
    }
    // Older than all that is kept.
    let mut ring = noisy();
    push(&mut ring, 0, received(202 + KEPT_US, 10));
    assert!(!events(&ring, 300 + KEPT_US).iter().any(|event| matches!(event, WireEvent::Lost { .. })));
}

#[test]
fn what_was_counted_at_the_moment_that_a_run_begins_is_told() {
    let mut ring = LookBack::default();
    for second in 1..4u64 {
        let before = SoFar { rows: 10 * second, ..SoFar::default() };
        ring.push(0, received(second * 1_000_000, 10), before, (None, None));
    }
    let rows = |at_us: u64| ring.before(0, at_us).map(|before| before.rows);
    assert_eq!([rows(0), rows(1_999_999), rows(2_000_000)], [Some(10), Some(20), Some(30)]);
    assert_eq!((rows(3_000_000), ring.before(1, 0)), (None, None));
    assert_eq!([ring.free_us(1_500_000), ring.free_us(2_000_000)], [1_500_000, 1_999_999]);
}

/// What is cut off of the first bytes that are kept is lost with those before them, to the end of its frame.
#[test]
fn a_frame_that_lost_its_beginning_is_lost_whole() {
    let mut ring = LookBack::default();
    let mut bytes = vec![1; 4096];
    bytes[100] = 0;
    for host_us in 2..202 {
        let record = Record { host_us, what: WireEvent::Received(bytes.clone()) };
        ring.push(0, record, SoFar::default(), (None, Some(Form::Binary)));
    }
    let began = events(&ring, 300);
    assert_eq!(began[0], WireEvent::Lost { bytes: 200 * 4096 - received_bytes(&began) });
    assert_eq!(began[1], WireEvent::Received(bytes[101..].to_vec()));
}

/// A frame may be longer than what the port hands over at a time.
#[test]
fn the_rest_of_a_frame_is_cut_off_over_several_pieces() {
    let mut ring = LookBack::default();
    let pieces: [&[u8]; 5] = [b"1,2", b",3", b",4", b",5\n6,7\n", b"8,9\n"];
    for (second, piece) in (1u64..).zip(pieces) {
        let record = Record { host_us: second * 1_000_000, what: WireEvent::Received(piece.to_vec()) };
        push(&mut ring, 0, record);
    }
    // The first piece is old by now.
    push(&mut ring, 0, Record { host_us: KEPT_US + 1_500_000, what: WireEvent::Received(b"0\n".to_vec()) });
    let whole = [b"6,7\n".to_vec(), b"8,9\n".to_vec(), b"0\n".to_vec()].map(WireEvent::Received);
    let [six, eight, last] = whole;
    assert_eq!(events(&ring, 5_500_000), [six, eight, WireEvent::Started, last]);
}

/// As much as there is room for is kept, to the byte.
#[test]
fn room_is_used_up_to_its_end() {
    let kept = |beyond: usize| {
        let mut ring = LookBack::default();
        let around = received(1, 1).weight_bytes() - 1;
        push(&mut ring, 0, received(1, UNKNOWN_BYTES_MAX - around + beyond));
        received_bytes(&events(&ring, 9))
    };
    assert_eq!((kept(0) > 0, kept(1)), (true, 0));
}
