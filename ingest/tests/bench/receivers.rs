//! A GNSS receiver beside a box.

use crate::device::{BenchBox, Device, sentence};
use crate::rig::{Bench, Left, start, with_sensor};
use firmware_protocol::ChannelKind;
use ingest::plow::ChannelRole;
use ingest::port::PortError;
use ingest::recorder::{Begin, GnssPort, RecordConfig, Wish};
use std::path::Path;
use std::time::Duration;

fn bench(device: Device) -> (Bench, RecordConfig) {
    let bench = Bench::new([("plow", Device::Box(BenchBox::plow())), ("gnss", device)]);
    let gnss = Some(GnssPort { port: "gnss".into(), baud: 9600 });
    let config = RecordConfig { gnss, duration: Some(Duration::from_secs(3)), ..bench.config() };
    (bench, config)
}

#[test]
fn what_is_no_receiver_or_gives_no_speed_is_refused_with_what_to_do() {
    let bare = |_| b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W\r\n".to_vec();
    let cases: [(Device, &str); 6] = [
        (
            Device::silent(),
            "nothing arrives on port gnss: is the GNSS receiver switched on, and is this its port?",
        ),
        (
            Device::says(|_| vec![0x81; 40]),
            "bytes arrive on port gnss but no NMEA 0183 sentence: check --gnss-baud (now 9600)",
        ),
        (Device::says(bare), "the GNSS receiver on port gnss sends NMEA 0183 sentences without checksums"),
        (Device::Box(BenchBox::plow()), "port gnss is that of a sensor box and not of a GNSS receiver"),
        (Device::says(|_| sentence("GPGSV,1,1,00")), "it sends neither of these: switch them on"),
        (
            Device::says(|_| sentence("GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,")),
            "it sends GGA only: switch them on",
        ),
    ];
    for (device, wanted) in cases {
        let (bench, config) = bench(device);
        let said = bench.refused(&config);
        assert!(said.contains(wanted), "{said}");
    }
}

#[test]
fn the_speed_of_a_receiver_is_shown_and_recorded() {
    let (bench, config) = bench(Device::receiver());
    let left = bench.record(&config, |_| async {});
    let progress = left.shown_at(3.0);
    assert_eq!((progress.no_receiver.as_deref(), progress.has_no_fix), (None, false));
    let (role, mps) = *progress.latest.last().unwrap();
    assert!(role == ChannelRole::Speed && (mps - 1.5).abs() < 0.01, "{progress:?}");
    let run = left.recorded.unwrap().last.unwrap();
    let gnss = run.gnss.unwrap();
    assert!((12..=16).contains(&gnss.fixes), "{gnss:?}");
    let rows = std::fs::read_to_string(run.folder.join("gnss.csv")).unwrap();
    assert_eq!(rows.lines().count() as u64, 1 + gnss.fixes);
}

#[test]
fn a_receiver_without_a_fix_is_shown_as_such_and_is_no_reason_to_wait() {
    let no_fix = |on_s| sentence(&format!("GNRMC,1200{:05.2},V,,,,,,,010127,,,N", on_s));
    let (bench, config) = bench(Device::says(no_fix));
    let left = bench.record(&config, |_| async {});
    let progress = left.shown_at(2.0);
    assert!(progress.has_no_fix && progress.no_receiver.is_none(), "{progress:?}");
    assert!(left.once_s("began low sharp") < 2.0);
    let run = left.recorded.unwrap().last.unwrap();
    let gnss = run.gnss.unwrap();
    assert_eq!((gnss.fixes, gnss.no_fix_periods), (0, 1), "{gnss:?}");
}

/// A recorder that stands by goes on without its receiver, whatever keeps it away, and says so once.
#[test]
fn runs_begin_without_a_receiver_that_cannot_be_had() {
    let busy = |port: &Path| PortError::Busy { port: port.to_owned(), holder: "process 7".to_owned() };
    let (bench, config) = bench(Device::receiver());
    let bench = bench.closed("gnss", busy);
    let config = RecordConfig { begin: Begin::OnStart, ..config };
    let left = bench.record(&config, |person| async move {
        person.wishes_at(2.0, start("low")).await;
        person.wishes_at(9.0, Wish::End("Ctrl-C")).await;
    });
    left.once_s("without the GNSS receiver: waiting for gnss: process 7 has it");
    let away = left.shown_at(4.0).no_receiver.as_deref();
    assert_eq!(away, Some("without the GNSS receiver: waiting for gnss: process 7 has it"));
    assert!(left.shown_at(4.0).latest.iter().all(|(role, _)| *role != ChannelRole::Speed));
    let run = left.recorded.unwrap().last.unwrap();
    assert_eq!(run.gnss.map(|gnss| (gnss.fixes, gnss.bytes)), Some((0, 0)));
}

/// Of a receiver that falls silent in a run its last speed is shown no more once its port is known to be away.
#[test]
fn a_receiver_that_is_pulled_is_shown_as_away_and_comes_back() {
    let (bench, config) = bench(Device::receiver());
    let config = RecordConfig { duration: Some(Duration::from_secs(12)), ..config };
    let left: Left = bench.record(&config, |person| async move {
        person.at(5.0).await;
        person.pull("gnss");
        person.at(8.0).await;
        person.plug("gnss", Device::receiver());
    });
    let shows_speed = |at_s| left.shown_at(at_s).latest.iter().any(|(role, _)| *role == ChannelRole::Speed);
    assert_eq!([4.5, 7.5, 11.0].map(shows_speed), [true, false, true]);
    let away = left.shown_at(7.5).no_receiver.as_deref().unwrap();
    let waits = "without the GNSS receiver: waiting for gnss: it went away (hung up). Engine off, plow lowered and blocked: ";
    assert!(away.starts_with(waits), "{away}");
    assert!(
        left.lines().iter().any(|line| line.contains("gnss: the port went away: hung up")),
        "{:?}",
        left.told
    );
}

/// Where a sensor box measures the speed, its reading is the one that is shown.
#[test]
fn a_speed_is_shown_once() {
    let (bench, config) = bench(Device::receiver());
    let channels =
        vec![("pull", ChannelKind::Pull), ("depth", ChannelKind::Depth), ("speed", ChannelKind::Speed)];
    let own = BenchBox { channels, counts: |_| vec![2600, 1500, 200], ..BenchBox::plow() };
    bench.plug_in("plow", Device::Box(own));
    let left =
        bench.record(&RecordConfig { plow: with_sensor("speed", "speed", "m/s"), ..config }, |_| async {});
    let speeds: Vec<f64> = left
        .shown_at(3.0)
        .latest
        .iter()
        .filter(|(role, _)| *role == ChannelRole::Speed)
        .map(|(_, mps)| *mps)
        .collect();
    assert_eq!(speeds, [2.0]);
}
