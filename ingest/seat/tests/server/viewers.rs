//! Many who look on, of whom one takes nothing.

use crate::rig::{Rig, Viewer, quantile};
use rustix::net::sockopt::set_socket_recv_buffer_size;
use std::io::Write;
use std::net::TcpStream;
use std::time::{Duration, Instant};

/// Viewers that read, and how long.
const VIEWERS: usize = 49;
const FOR: Duration = Duration::from_secs(8);

/// One who asks and then reads nothing.
fn stalled(rig: &Rig) -> TcpStream {
    let mut stream = TcpStream::connect(rig.here()).unwrap();
    set_socket_recv_buffer_size(&stream, 4096).unwrap();
    stream.write_all(format!("GET /live HTTP/1.1\r\nhost: {}\r\n\r\n", rig.here()).as_bytes()).unwrap();
    stream
}

#[test]
fn fifty_viewers_of_whom_one_stalls() {
    let rig = Rig::new();
    std::thread::sleep(Duration::from_secs(2));
    let alone = rig.feeder.take_calls();
    let late_of = |viewer: &mut Viewer| {
        let (begun, mut late) = (Instant::now(), Vec::new());
        while begun.elapsed() < FOR {
            let now = viewer.next_named("now");
            let Some(number) = now.data["pull_n"].as_f64() else { continue };
            let told = rig.feeder.told.lock().unwrap()[number as usize];
            late.push(now.at.saturating_duration_since(told));
        }
        late
    };
    let stalls = stalled(&rig);
    let mut late: Vec<Duration> = std::thread::scope(|scope| {
        let threads: Vec<_> =
            (0..VIEWERS).map(|_| scope.spawn(|| late_of(&mut Viewer::new(rig.here())))).collect();
        std::thread::sleep(Duration::from_secs(1));
        assert!(rig.metric("viewers") >= VIEWERS as f64);
        threads.into_iter().flat_map(|thread| thread.join().unwrap()).collect()
    });
    late.sort();
    let with = rig.feeder.take_calls();
    println!(
        "readings to {VIEWERS} viewers beside one that stalls: {} readings, median {:?}, p99 {:?}, latest {:?}",
        late.len(),
        quantile(&late, 0.5),
        quantile(&late, 0.99),
        late[late.len() - 1]
    );
    for (what, calls) in [("no viewer", &alone), ("50 viewers", &with)] {
        let (median, p99) = (quantile(calls, 0.5), quantile(calls, 0.99));
        println!(
            "calls of the loop, {what}: median {median:?}, p99 {p99:?}, longest {:?}",
            calls[calls.len() - 1]
        );
    }
    assert!(quantile(&late, 0.5) < Duration::from_millis(100));
    assert!(quantile(&late, 0.99) < Duration::from_millis(250));
    assert!(quantile(&with, 0.99) < Duration::from_millis(2));
    assert_eq!(rig.metric("viewers_dropped_total"), 1.0, "the one that stalled, and nobody else");
    drop(stalls);
}

#[test]
fn there_is_room_for_so_many_and_then_it_is_said() {
    let rig = Rig::new();
    let viewers: Vec<_> = (0..64).map(|_| Viewer::new(rig.here())).collect();
    let refused = rig.get("/live");
    assert_eq!(refused.status, 503);
    assert!(refused.text().contains("too many look on"), "{}", refused.text());
    assert_eq!(rig.get("/status").status, 200, "others are answered");
    drop(viewers);
    std::thread::sleep(Duration::from_millis(300));
    assert_eq!(rig.metric("viewers"), 0.0);
    Viewer::new(rig.here()).next_named("now");
}
