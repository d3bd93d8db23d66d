//! What is found on a port by looking for boxes, and a box whose rows are asked for now and then.

use super::scripted_box::{Act, FRAME_ROWS, INTERVAL_US, ScriptedBox, open_pty};
use firmware_protocol::Form;
use ingest::discovery::{DiscoveryError, LiveBox, NotABox, ProbeConfig, ProbeResult, probe_all};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::thread::JoinHandle;
use std::time::Duration;

const BAUD: u32 = 921_600;

/// A box that does this once it is started, and at what port.
fn scripted(folder: &Path, acts: Vec<Act>) -> (PathBuf, JoinHandle<()>) {
    let port = folder.join("port");
    let scripted = ScriptedBox::new(&port);
    (port, std::thread::spawn(move || scripted.run(acts)))
}

/// What is found on one port that a person named.
fn probed(port: &Path) -> Result<ProbeResult, DiscoveryError> {
    let config = ProbeConfig { patience: Duration::from_secs(4), ..ProbeConfig::at(BAUD) };
    probe_all(&[(port.to_owned(), true)], config).unwrap().remove(0)
}

#[test]
fn each_stretch_of_rows_begins_when_it_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let (port, acts) = scripted(folder.path(), vec![Act::Send(150), Act::Lose, Act::Lose, Act::Send(100)]);
    let live = LiveBox::open(&port, BAUD).unwrap();
    assert_eq!(live.hello().name.as_str(), "test box");
    std::thread::sleep(Duration::from_millis(500));
    let first = live.take(Duration::from_millis(300)).unwrap();
    // Half a second of rows went by before, and is none of it.
    assert!(first.counts[0][0] > ScriptedBox::counts(100)[0], "{:?}", first.counts[0][0]);
    let rows = first.rows() as u32;
    assert!((FRAME_ROWS..=40 * FRAME_ROWS).contains(&rows), "{rows} rows");
    assert_eq!((first.rows_lost, first.restarts, first.frames_damaged), (0, 0, 0));
    // Until well after the two frames that are lost.
    let second = live.take(Duration::from_secs(3)).unwrap();
    assert!(second.counts[0][0] > *first.counts[0].last().unwrap());
    assert_eq!((second.rows_lost, second.gaps), (2 * u64::from(FRAME_ROWS), 1));
    drop(live);
    acts.join().unwrap();
}

#[test]
fn a_box_that_goes_is_said_to_have_gone_now_and_then_before() {
    let folder = tempfile::tempdir().unwrap();
    let (port, acts) = scripted(folder.path(), vec![Act::Send(20), Act::Unplug(Duration::from_secs(2))]);
    let live = LiveBox::open(&port, BAUD).unwrap();
    let said = |lasts| live.take(lasts).unwrap_err().to_string();
    let gone = said(Duration::from_secs(20));
    assert!(gone.contains(&port.display().to_string()) && gone.contains("hung up"), "{gone}");
    let before = said(Duration::from_millis(100));
    assert!(before.contains("it had gone before"), "{before}");
    drop(live);
    acts.join().unwrap();
}

#[test]
fn a_box_that_answers_and_sends_no_rows_is_told_from_one_that_is_not_there() {
    let folder = tempfile::tempdir().unwrap();
    let (port, acts) = scripted(folder.path(), vec![Act::Silent(Duration::from_secs(4))]);
    let live = LiveBox::open(&port, BAUD).unwrap();
    let error = live.take(Duration::from_millis(200)).unwrap_err();
    assert!(matches!(&error, DiscoveryError::NoRows(of) if *of == port), "{error}");
    drop(live);
    acts.join().unwrap();

    let missing = LiveBox::open(&folder.path().join("none"), BAUD).unwrap_err();
    assert!(missing.to_string().starts_with("there is no port "), "{missing}");
    let (_master, silent) = open_pty();
    let error = LiveBox::open(&silent, BAUD).unwrap_err();
    assert!(matches!(error, DiscoveryError::NoBox { found: NotABox::Silent, .. }), "{error}");
}

#[test]
fn a_box_is_found_with_its_rows() {
    let folder = tempfile::tempdir().unwrap();
    let (port, acts) = scripted(folder.path(), vec![Act::Send(100)]);
    let seen = probed(&port).unwrap().unwrap();
    assert_eq!((seen.hello.name.as_str(), seen.form), ("test box", Some(Form::Binary)));
    let interval_s = f64::from(INTERVAL_US) / 1e6;
    let lasts_s = seen.sample.rows() as f64 * interval_s;
    assert!((0.5..1.6).contains(&lasts_s), "{lasts_s}");
    acts.join().unwrap();
}

/// Says this ten times a second until a start comes, then answers with this; gives all that came.
fn talker(unasked: Vec<u8>, answer: Vec<u8>) -> (PathBuf, JoinHandle<Vec<u8>>) {
    let (mut master, port) = open_pty();
    let talks = std::thread::spawn(move || {
        let (mut heard, mut buffer) = (Vec::new(), [0; 256]);
        for _ in 0..80 {
            let length = master.read(&mut buffer).unwrap_or(0);
            heard.extend_from_slice(&buffer[..length]);
            let said = if heard.is_empty() { &unasked } else { &answer };
            let _ = master.write(said);
            std::thread::sleep(Duration::from_millis(100));
        }
        heard
    });
    (port, talks)
}

#[test]
fn what_is_no_box_is_told_by_what_it_says() {
    use firmware_protocol::{Frame, Status, encode};
    let status = Status { uptime_ms: 7, rows_dropped: 0, supply_mv: 0, temperature_centi_c: 0 };
    let status = encode(&Frame::Status(status)).as_bytes().to_vec();
    let text = b"pull 12 depth 13\r\n".to_vec();
    let (frames, says) = talker(status.clone(), status);
    let (other, noises) = talker(text.clone(), text);
    let [frames_are, text_is] = [frames, other]
        .map(|port| std::thread::spawn(move || probed(&port).unwrap().unwrap_err()))
        .map(|probing| probing.join().unwrap());
    assert_eq!(frames_are, NotABox::NoHello);
    assert!(text_is.to_string().contains("lines of text"), "{text_is}");
    let stop = encode(&Frame::Stop).as_bytes().to_vec();
    let heard = says.join().unwrap();
    assert!(heard.ends_with(&stop), "what was told to start is told to stop again: {heard:?}");
    assert_eq!(noises.join().unwrap(), b"", "what is no box is not written to");
}

#[test]
fn a_port_that_hangs_up_is_said_to_have_gone() {
    let (master, port) = open_pty();
    let pulled = std::thread::spawn(move || {
        std::thread::sleep(Duration::from_millis(700));
        drop(master);
    });
    let error = probed(&port).unwrap_err();
    assert!(matches!(&error, DiscoveryError::Went { port: of, .. } if *of == port), "{error}");
    pulled.join().unwrap();
}
