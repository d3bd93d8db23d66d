//! Those who mean it ill, while a recorder runs and somebody looks on.

use crate::rig::{RATE, Rig, Viewer, allow_files, ask, get, quantile, try_ask};
use std::io::{Read, Write};
use std::net::TcpStream;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// How late a reading may be at a viewer while others try their worst, on a computer that has more to do.
const IN_TIME: Duration = Duration::from_millis(250);
/// How long a call of the loop may take, once in a hundred.
const CALL: Duration = Duration::from_millis(2);

/// What goes on while `attack` does: rows keep coming, and one who looked on before gets them in time.
fn nobody_notices(rig: &Rig, attack: impl FnOnce()) {
    let mut viewer = Viewer::new(rig.here());
    viewer.next_named("now");
    rig.feeder.take_calls();
    let rows_before = rig.feeder.told.lock().unwrap().len();
    let begun = Instant::now();
    let over = AtomicBool::new(false);
    std::thread::scope(|scope| {
        let (told, over) = (&rig.feeder.told, &over);
        let watching = scope.spawn(move || {
            let mut late = Vec::new();
            loop {
                let now = viewer.next_named("now");
                let number = now.data["pull_n"].as_f64().unwrap() as usize;
                late.push(now.at.saturating_duration_since(told.lock().unwrap()[number]));
                if number >= rows_before + RATE as usize && over.load(Ordering::Relaxed) {
                    return late;
                }
            }
        });
        attack();
        over.store(true, Ordering::Relaxed);
        let mut late = watching.join().unwrap();
        late.sort();
        let (median, p99) = (quantile(&late, 0.5), quantile(&late, 0.99));
        println!("a viewer beside it: median {median:?}, p99 {p99:?}, {} readings", late.len());
        assert!(p99 < IN_TIME, "{p99:?}");
    });
    let calls = rig.feeder.take_calls();
    let rows = rig.feeder.told.lock().unwrap().len() - rows_before;
    let due = (begun.elapsed().as_secs_f64() * RATE as f64) as usize;
    println!(
        "{rows} of {due} rows, calls of the loop: p99 {:?}, longest {:?}",
        quantile(&calls, 0.99),
        calls[calls.len() - 1]
    );
    assert!(rows + RATE as usize / 4 >= due, "{rows} of {due} rows were told");
    assert!(quantile(&calls, 0.99) < CALL);
}

#[test]
fn ten_thousand_connections_that_say_nothing() {
    let files = allow_files(12_000);
    let rig = Rig::new();
    let wanted = 10_000.min(usize::try_from(files).unwrap().saturating_sub(600));
    nobody_notices(&rig, || {
        let mut held = Vec::new();
        let mut answered = Vec::new();
        for number in 0..wanted {
            match TcpStream::connect_timeout(&rig.here(), Duration::from_secs(5)) {
                Ok(stream) => held.push(stream),
                Err(error) => panic!("connection {number}: {error}"),
            }
            if number % 500 == 499 {
                let begun = Instant::now();
                assert_eq!(rig.get("/units").status, 200, "after {number} others");
                answered.push(begun.elapsed());
            }
        }
        answered.sort();
        let n = held.len();
        println!("{n} connections at once; somebody who asks: longest {:?}", answered[answered.len() - 1]);
        assert!(answered[answered.len() - 1] < Duration::from_secs(1));
        assert!(rig.metric("connections") <= 192.0);
        assert!(rig.metric("connections_dropped_total") >= (wanted - 300) as f64);
    });
}

#[test]
fn one_byte_a_second_is_cut_after_five() {
    let rig = Rig::new();
    nobody_notices(&rig, || {
        let mut slow: Vec<_> = (0..50).map(|_| TcpStream::connect(rig.here()).unwrap()).collect();
        let begun = Instant::now();
        for byte in b"GET /statu" {
            for stream in &mut slow {
                // It may be cut by now.
                let _ = stream.write_all(&[*byte]);
            }
            std::thread::sleep(Duration::from_millis(700));
        }
        for stream in &mut slow {
            stream.set_read_timeout(Some(Duration::from_secs(2))).unwrap();
            let mut answer = Vec::new();
            let ended = stream.read_to_end(&mut answer);
            let timed_out = ended.as_ref().is_err_and(|error| error.kind() == std::io::ErrorKind::WouldBlock);
            assert!(!timed_out, "still open after {:?}", begun.elapsed());
            assert!(!answer.starts_with(b"HTTP/1.1 200"));
        }
        assert_eq!(rig.metric("connections"), 2.0, "the viewer and whoever asks this");
    });
}

#[test]
fn a_body_of_a_gigabyte_is_not_read() {
    let rig = Rig::new();
    nobody_notices(&rig, || {
        for head in ["content-length: 1073741824", "transfer-encoding: chunked"] {
            let mut stream = TcpStream::connect(rig.here()).unwrap();
            let at = rig.here();
            let kind = "content-type: application/json";
            stream
                .write_all(
                    format!("POST /wish HTTP/1.1\r\nhost: {at}\r\n{kind}\r\n{head}\r\n\r\n").as_bytes(),
                )
                .unwrap();
            let chunk = [b"10000\r\n".as_slice(), &[b' '; 0x10000], b"\r\n"].concat();
            let sent = (0..16_384).take_while(|_| stream.write_all(&chunk).is_ok()).count();
            assert!(sent * chunk.len() < 20_000_000, "{sent} chunks were taken");
        }
        let long_head =
            format!("GET / HTTP/1.1\r\nhost: {}\r\nx: {}\r\n\r\n", rig.here(), "y".repeat(100_000));
        assert!(try_ask(rig.here(), long_head.as_bytes()).is_none_or(|answer| answer.status == 431));
        let lines = format!("GET / HTTP/1.1\r\nhost: {}\r\n{}\r\n", rig.here(), "a: b\r\n".repeat(500));
        assert!(try_ask(rig.here(), lines.as_bytes()).is_none_or(|answer| answer.status == 431));
    });
}

#[test]
fn a_body_that_never_comes_is_waited_for_five_seconds() {
    let rig = Rig::new();
    let at = rig.here();
    let begun = Instant::now();
    let kind = "content-type: application/json\r\ncontent-length: 15";
    let answer = ask(at, format!("POST /wish HTTP/1.1\r\nhost: {at}\r\n{kind}\r\n\r\n{{").as_bytes());
    assert_eq!(answer.status, 408);
    assert!((4.5..7.0).contains(&begun.elapsed().as_secs_f64()));
}

#[test]
fn three_hundred_wrong_tokens_cost_nothing_and_give_nothing() {
    let rig = Rig::at("0.0.0.0:0", &[]);
    let Some(outside) = rig.address_outside() else {
        return println!("this computer has no network: not tried");
    };
    nobody_notices(&rig, || {
        let begun = Instant::now();
        for number in 0..100 {
            let wrong = format!("{number:032x}");
            for answer in [
                get(outside, &format!("/?token={wrong}"), ""),
                get(outside, "/live", &format!("cookie: hitchwright={wrong}\r\n")),
                get(outside, "/metrics", &format!("authorization: Bearer {wrong}\r\n")),
            ] {
                assert_eq!((answer.status, answer.body.len()), (401, 0));
                assert_eq!(answer.header("set-cookie"), None);
            }
        }
        println!("300 wrong tokens in {:?}", begun.elapsed());
        assert_eq!(rig.metric("tokens_refused_total"), 300.0);
    });
    // Nor does anything come without one.
    for path in ["/", "/seat.js", "/live", "/units", "/status", "/metrics", "/runs", "/no-such", "/wish"] {
        let answer = get(outside, path, "");
        assert_eq!((answer.status, answer.body.len()), (401, 0), "{path}");
    }
    let good = format!("authorization: Bearer {}\r\n", rig.tokens.look_on.text());
    assert_eq!(get(outside, "/status", &good).status, 200, "and who has one is not locked out");
}

/// A person who comes by yesterday's link reads where today's is; nobody else gets a byte more for it.
#[test]
fn an_old_link_in_a_browser_says_where_the_new_one_is() {
    let rig = Rig::at("0.0.0.0:0", &[]);
    let Some(outside) = rig.address_outside() else {
        return println!("this computer has no network: not tried");
    };
    let browser = "accept: text/html,application/xhtml+xml;q=0.9,*/*;q=0.8\r\n";
    let old = format!("/?token={}%3Cscript%3E", "0".repeat(32));
    for (path, cookie) in
        [(&*old, ""), ("/", "cookie: hitchwright=0123\r\n"), ("/", ""), ("/runs/a/page.pdf", "")]
    {
        let answer = get(outside, path, &format!("{browser}{cookie}"));
        assert_eq!((answer.status, answer.text().as_str()), (401, seat::server::OLD_LINK), "{path}");
        assert_eq!(answer.header("content-type"), Some("text/html; charset=utf-8"));
        assert!(answer.header("content-security-policy").unwrap().starts_with("default-src 'none';"));
        assert_eq!((answer.header("cache-control"), answer.header("set-cookie")), (Some("no-store"), None));
    }
    assert!(seat::server::OLD_LINK.contains("hitchwright-recorder links"));
    for accept in ["", "accept: */*\r\n", "accept: text/event-stream\r\n", "accept: text/htm\r\n"] {
        let answer = get(outside, &old, accept);
        assert_eq!((answer.status, answer.body.len()), (401, 0), "{accept}");
    }
    assert_eq!(crate::rig::post_wish(outside, "{}", browser).body.len(), 0);
    assert_eq!(rig.metric("tokens_refused_total"), 9.0);
    // Whom a page from elsewhere or a foreign name brings here is told nothing.
    let from_elsewhere = get(outside, &old, &format!("{browser}origin: http://evil.test\r\n"));
    assert_eq!((from_elsewhere.status, from_elsewhere.body.len()), (403, 0));
    let foreign = format!("GET {old} HTTP/1.1\r\nhost: evil.test\r\n{browser}\r\n");
    let foreign = ask(outside, foreign.as_bytes());
    assert_eq!((foreign.status, foreign.body.len()), (421, 0));
}

#[test]
fn names_that_are_not_ours_and_pages_of_others_get_nothing() {
    let rig = Rig::new();
    let at = rig.here();
    let asked = |host: &str, headers: &str| {
        ask(at, format!("GET /status HTTP/1.1\r\nhost: {host}\r\n{headers}\r\n").as_bytes())
    };
    for host in ["evil.test", &format!("evil.test:{}", at.port()), "127.0.0.1", "127.0.0.1:1"] {
        let answer = asked(host, "");
        assert_eq!((answer.status, answer.body.len()), (421, 0), "{host}");
    }
    let absolute = format!("GET http://evil.test/status HTTP/1.1\r\nhost: {at}\r\n\r\n");
    assert_eq!(ask(at, absolute.as_bytes()).status, 421);
    let nameless = ask(at, b"GET /status HTTP/1.0\r\n\r\n");
    assert_eq!((nameless.status, nameless.body.len()), (421, 0));
    let post = crate::rig::post_wish(at, r#"{"wish":"stop"}"#, "origin: http://evil.test\r\n");
    assert_eq!((post.status, post.body.len()), (403, 0));
    assert_eq!(rig.metric("hosts_refused_total"), 6.0);
    assert_eq!(rig.metric("origins_refused_total"), 1.0);
}

#[test]
fn what_is_no_http_is_no_harm() {
    let rig = Rig::new();
    for bytes in [
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03".as_slice(),
        b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
        b"\0\0\0\0\r\n\r\n",
        b"GET /\xff\xfe HTTP/1.1\r\nhost: \xff\r\n\r\n",
        b"CONNECT evil.test:80 HTTP/1.1\r\nhost: evil.test\r\n\r\n",
        b"GET /runs/../../etc/passwd HTTP/1.1\r\nhost: evil\r\n\r\n",
    ] {
        if let Some(answer) = try_ask(rig.here(), bytes) {
            assert!(answer.status >= 400 && answer.body.is_empty(), "{answer:?}");
        }
    }
    assert_eq!(rig.get("/status").status, 200);
}
