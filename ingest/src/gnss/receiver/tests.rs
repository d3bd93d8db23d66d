use super::*;
use crate::script::nmea_line as line;
use proptest::prelude::*;

/// A receiver on a port, at one epoch a second, and the host's time.
struct Rig {
    receiver: Receiver,
    out: Vec<Item<Fix>>,
    host_us: u64,
}

type SeenEvent = (f64, &'static str, String);

fn rmc(second: u64, status: &str, course: &str) -> String {
    let time = format!("{:02}{:02}{:02}.00", second / 3600 % 24, second / 60 % 60, second % 60);
    line(&format!("GNRMC,{time},{status},3000.0000,N,04000.0000,W,3.600,{course},010127,,,A"))
}

impl Rig {
    fn new() -> Self {
        let mut rig = Self { receiver: Receiver::default(), out: Vec::new(), host_us: 0 };
        rig.happens(WireEvent::PortOpened("gnss".to_owned()));
        rig
    }

    fn happens(&mut self, what: WireEvent) {
        self.host_us += 1;
        self.receiver.take(&Record { host_us: self.host_us, what }, &mut self.out);
    }

    fn sends(&mut self, host_ms: u64, text: &str) {
        self.host_us = host_ms * 1000;
        self.happens(WireEvent::Received(text.as_bytes().to_vec()));
    }

    /// Rows, events as `(run time in s, kind, detail)`, and what was counted.
    fn ended(mut self) -> (Vec<Fix>, Vec<SeenEvent>, GnssCounters) {
        self.happens(WireEvent::Ended("test".to_owned()));
        let (fixes, events) = Item::split(self.out);
        let seen = |event: RunEvent| (event.t_us as f64 / 1e6, event.kind.name(), event.detail);
        (fixes, events.into_iter().map(seen).collect(), self.receiver.counters())
    }
}

#[test]
fn a_run_has_one_row_for_each_epoch_from_its_start_and_the_course_is_kept_while_standing() {
    let mut rig = Rig::new();
    for second in 0..3 {
        rig.sends(1000 * second + 50, &rmc(second, "A", "84.40"));
    }
    rig.host_us = 2_500_000;
    rig.happens(WireEvent::Started);
    for second in 3..6 {
        rig.sends(1000 * second + 50, &rmc(second, "A", if second == 4 { "" } else { "84.40" }));
    }
    let (fixes, events, counters) = rig.ended();
    let times: Vec<_> = fixes.iter().map(|fix| fix.t_us).collect();
    assert_eq!(times, [550_000, 1_550_000, 2_550_000]);
    assert!(fixes.iter().all(|fix| fix.course_deg == 84.4 && (fix.speed_mps - 1.852).abs() < 1e-9));
    assert_eq!(fixes[0].position, Position { lat_deg: 30.0, lon_deg: -40.0 });
    assert_eq!(events, []);
    assert_eq!((counters.fixes, counters.fixes_before_start, counters.sentences), (3, 3, 6));
}

#[test]
fn periods_without_fix_are_marked_from_their_first_epoch_to_the_first_fix() {
    let mut rig = Rig::new();
    rig.sends(50, &rmc(0, "V", ""));
    rig.sends(1050, &rmc(1, "V", ""));
    rig.host_us = 1_200_000;
    rig.happens(WireEvent::Started);
    for second in 2..10 {
        let status = if matches!(second, 2 | 5 | 6) { "V" } else { "A" };
        rig.sends(1000 * second + 50, &rmc(second, status, ""));
    }
    let (fixes, events, counters) = rig.ended();
    assert_eq!((fixes.len(), counters.without_fix, counters.no_fix_periods), (5, 5, 2));
    let seen: Vec<_> = events.iter().map(|(t_s, kind, detail)| (*t_s, *kind, detail.as_str())).collect();
    let why = "the receiver says that it has no fix";
    assert_eq!(
        seen,
        [
            (0.0, "no-fix", why),
            (1.85, "fix-back", "lasted_s=1.850; epochs=2"),
            (3.85, "no-fix", why),
            (5.85, "fix-back", "lasted_s=2.000; epochs=2"),
        ]
    );
}

#[test]
fn a_port_that_goes_and_comes_back_and_bytes_that_are_lost_are_events() {
    let mut rig = Rig::new();
    rig.happens(WireEvent::Started);
    rig.sends(50, &rmc(0, "A", ""));
    rig.sends(1050, "$GNRMC,000001.00,A,30");
    rig.happens(WireEvent::PortGone("hung up".to_owned()));
    rig.sends(3000, "");
    rig.happens(WireEvent::PortOpened("gnss".to_owned()));
    rig.sends(3050, &rmc(3, "A", ""));
    rig.happens(WireEvent::Lost { bytes: 70 });
    rig.sends(5050, &rmc(5, "A", ""));
    let (fixes, events, counters) = rig.ended();
    assert_eq!(fixes.iter().map(|fix| fix.t_us / 1_000_000).collect::<Vec<_>>(), [0, 3, 5]);
    assert_eq!(
        events.iter().map(|event| event.1).collect::<Vec<_>>(),
        ["port-gone", "port-back", "not-kept"]
    );
    assert_eq!((counters.reconnects, counters.bad_checksums, counters.bytes_not_kept), (1, 0, 70));
}

#[test]
fn a_receiver_that_comes_in_the_run_was_gone_from_its_beginning() {
    let mut rig = Rig { receiver: Receiver::default(), out: Vec::new(), host_us: 0 };
    rig.happens(WireEvent::PortGone("there is no such port".to_owned()));
    rig.host_us = 9_000_000;
    rig.happens(WireEvent::Started);
    rig.host_us = 12_000_000;
    rig.happens(WireEvent::PortOpened("gnss".to_owned()));
    (13..16).for_each(|second| rig.sends(1000 * second + 50, &rmc(second, "A", "")));
    let (fixes, events, counters) = rig.ended();
    let events: Vec<_> =
        events.iter().map(|(t_s, kind, detail)| (t_s.round(), *kind, detail.as_str())).collect();
    assert_eq!(events, [(0.0, "port-gone", "there is no such port"), (3.0, "port-back", "gnss")]);
    assert_eq!((fixes.len(), counters.fixes, counters.reconnects), (3, 3, 0));
    assert_eq!(fixes[0].t_us / 1_000_000, 4);
}

#[test]
fn a_time_that_steps_is_an_event_and_no_row_goes_back() {
    let mut rig = Rig::new();
    rig.happens(WireEvent::Started);
    for second in 0..12 {
        let tag = if second < 5 { 100 + second } else { 98 + second };
        rig.sends(1000 * second + 50, &rmc(tag, "A", ""));
    }
    let (fixes, events, counters) = rig.ended();
    assert!(fixes.windows(2).all(|two| two[0].t_us < two[1].t_us));
    assert_eq!((events.len(), events[0].1, events[0].2.as_str()), (1, "gnss-time-step", "step_s=-2.000"));
    assert_eq!((counters.fixes, counters.fixes_not_rising), (10, 2));
}

#[test]
fn what_is_of_no_use_or_makes_no_sense_is_counted() {
    let mut rig = Rig::new();
    rig.happens(WireEvent::Started);
    rig.sends(10, &line("GPGSV,1,1,00"));
    assert!(!rig.receiver.can_give_fixes());
    rig.sends(20, &line("GPGGA,000000,3000.0000,N,04000.0000,W,1,08,0.9,12.0,M,,M,,"));
    assert!(!rig.receiver.can_give_fixes());
    rig.sends(30, &line("GPRMC,000001,A,30nan,N,04000.0000,W,1,1,010127,,,A"));
    rig.sends(40, "$GPRMC,000001*00\r\n");
    rig.sends(50, &line("BDVTG,1,T,,M,1,N,1.852,K"));
    assert!(rig.receiver.can_give_fixes());
    assert_eq!(rig.receiver.talkers(), ["BD", "GP"]);
    rig.sends(1020, &line("GPGGA,000001,3000.0000,N,04000.0000,W,1,08,0.9,12.0,M,,M,,"));
    let (fixes, _, counters) = rig.ended();
    assert_eq!((fixes.len(), counters.incomplete), (1, 1));
    assert_eq!(
        (counters.sentences_of_no_use, counters.sentences_malformed, counters.bad_checksums),
        (1, 1, 1)
    );
}

proptest! {
    /// Any bytes in any pieces: nothing panics, rows rise, and what is counted adds up.
    #[test]
    fn rows_rise_whatever_comes(
        pieces in proptest::collection::vec(
            (0u64..3_000, prop_oneof![
                (0u64..86_400, prop_oneof![Just("A"), Just("V")]).prop_map(|(s, status)| rmc(s, status, "1.0").into_bytes()),
                "[$GPRMCVTA0-9,.*\r\n]{0,40}".prop_map(String::into_bytes),
                proptest::collection::vec(any::<u8>(), 0..40),
            ]), 0..40,
        ), start in 0usize..40,
    ) {
        let mut rig = Rig::new();
        for (number, (after_ms, bytes)) in pieces.iter().enumerate() {
            if number == start {
                rig.happens(WireEvent::Started);
            }
            rig.host_us += after_ms * 1000;
            rig.happens(WireEvent::Received(bytes.clone()));
        }
        let (fixes, _, counters) = rig.ended();
        prop_assert!(fixes.windows(2).all(|two| two[0].t_us < two[1].t_us));
        prop_assert_eq!(fixes.len() as u64, counters.fixes);
        prop_assert!(counters.sentences_of_no_use + counters.sentences_malformed <= counters.sentences);
    }
}

/// Noise that happens to have right checksums cannot make the list of talkers, which goes into `run.toml`, grow for ever.
#[test]
fn talkers_are_listed_up_to_a_bound() {
    let mut rig = Rig::new();
    rig.sends(0, &line("GPRMC,000000.00,V,,,,,,,010127,,,N"));
    rig.happens(WireEvent::Started);
    for number in 0..26u8 {
        let talker = char::from(b'A' + number);
        let body = format!("Z{talker}RMC,0000{:02}.00,V,,,,,,,010127,,,N", number + 1);
        rig.sends(1000 * (u64::from(number) + 1), &line(&body));
    }
    assert_eq!(rig.receiver.talkers().len(), TALKERS_MAX);
    assert!(rig.receiver.talkers().contains(&"GP".to_owned()), "the first that came is there");
    assert_eq!(rig.receiver.counters().sentences, 27);
}
