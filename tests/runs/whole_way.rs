//! The whole way: a virtual box, the recorder with its page, a pass begun and stopped at the page, and its verdict.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::time::{Duration, Instant};

use crate::served::{Folder, get};
use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::{sample, text_of};
use hitchwright_tests::process::{Running, Signal};
use sample_runs::plow::Case;
use sample_runs::virtual_box::{BoxConfig, VirtualBox};
use serde_json::Value;

const LONG: Duration = Duration::from_secs(120);
const WORKING_S: f64 = 40.0;

/// Waits for a snapshot that is as wanted.
fn wait_for(address: SocketAddr, wanted: impl Fn(&Value) -> bool) -> Value {
    let mut stream = TcpStream::connect(address).unwrap();
    stream.set_read_timeout(Some(LONG)).unwrap();
    write!(stream, "GET /live HTTP/1.1\r\nHost: {address}\r\n\r\n").unwrap();
    let mut lines = BufReader::new(stream).lines();
    let end = Instant::now() + LONG;
    let mut is_snapshot = false;
    loop {
        assert!(Instant::now() < end, "no such snapshot came");
        let line = lines.next().unwrap().unwrap();
        if let Some(data) = line.strip_prefix("data: ").filter(|_| is_snapshot) {
            let snapshot: Value = serde_json::from_str(data).unwrap();
            if wanted(&snapshot) {
                return snapshot;
            }
        }
        is_snapshot = line == "event: snapshot";
    }
}

fn wish(address: SocketAddr, wish: &str) {
    let mut stream = TcpStream::connect(address).unwrap();
    let (length, kind) = (wish.len(), "application/json");
    write!(
        stream,
        "POST /wish HTTP/1.1\r\nHost: {address}\r\nContent-Type: {kind}\r\nContent-Length: {length}\r\n\r\n{wish}"
    )
    .unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
}

fn recorder(port: &Path, out: &Path) -> (Running, SocketAddr) {
    let plow = sample("plows/two-bottom.toml");
    let words =
        ["--port", text_of(port), "--plow", text_of(&plow), "--out", text_of(out), "--live", "127.0.0.1:0"];
    let mut recorder = Running::start(Program::Recorder, words).unwrap();
    let line = recorder.wait_for_line("http://", LONG).unwrap();
    let address = line.split("http://").nth(1).unwrap().split('/').next().unwrap().parse().unwrap();
    (recorder, address)
}

#[test]
#[ignore = "a pass in real time, about a minute"]
fn from_the_stop_at_the_page_to_the_verdict_on_it() {
    let folder = Folder::new();
    let mut config = BoxConfig::of_case(Case::TooFlat, 411, WORKING_S);
    config.pass.times.standing_s = 0.0;
    let total_s = config.pass.times.total_s();
    let virtual_box = VirtualBox::open(config).unwrap();
    let (mut recorder, address) = recorder(virtual_box.path(), folder.path());
    wait_for(address, |snapshot| snapshot["phase"] == "stands_by");
    wish(address, r#"{"wish":"start","setting":"flat"}"#);
    wait_for(address, |snapshot| snapshot["phase"] == "recording");
    std::thread::sleep(Duration::from_secs_f64(total_s - 4.0));
    wish(address, r#"{"wish":"stop"}"#);
    let stopped = Instant::now();
    let told = wait_for(address, |snapshot| {
        !matches!(snapshot["last_pass"]["state"].as_str(), None | Some("working_out"))
    });
    println!("from the stop at the page to the verdict on it: {:?}", stopped.elapsed());
    let pass = &told["last_pass"];
    assert_eq!(pass["state"], "ready", "{pass}");
    assert!(pass["headline"].as_str().unwrap().contains("TOO FLAT"), "{pass}");
    let order = pass["lines"]["us"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(Value::as_str)
        .find(|line| line.contains("ove the "));
    assert!(order.unwrap().contains(ingest::safety::BEFORE_HANDS), "{pass}");
    assert_eq!(told["phase"], "stands_by");
    // The same server hands it out, held to the same rules.
    let name = pass["run"].as_str().unwrap();
    assert_eq!(get(address, "/runs").status, 421, "asked for under another name");
    let mut stream = TcpStream::connect(address).unwrap();
    write!(stream, "GET /runs/{name}/plow.csv HTTP/1.1\r\nHost: {address}\r\n\r\n").unwrap();
    let mut answer = String::new();
    stream.read_to_string(&mut answer).unwrap();
    let rows = std::fs::read_to_string(folder.path().join(name).join("plow.csv")).unwrap();
    assert!(answer.starts_with("HTTP/1.1 200") && answer.ends_with(&rows));
    assert!(answer.to_ascii_lowercase().contains("\r\ncontent-security-policy: default-src 'none'"));
    recorder.signal(Signal::TERM).unwrap();
    recorder.wait(LONG).unwrap().expect_code(0).unwrap();
}
