//! One long run on a cable that goes again and again, at full speed: the recorder keeps no more of a run at its end
//! than at its beginning. Nothing is kept of what is written either, so that all memory is the recorder's; the program has
//! one test at a time for the same reason.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};

use firmware_protocol::{
    Channel, ChannelKind, Event, Frame, Hello, Label, PortDecoder, Readings, Time, encode,
};
use held::record_config;
use ingest::port::{OpenPort, PortError, PortLock, Ports};
use ingest::recorder::{
    Begin, Beside, Call, Destination, Disk, DiskFile, Host, NoView, RecordError, Wish, record_on,
};
use sample_runs::sensors::Sensor;
use tokio::io::{AsyncReadExt, AsyncWriteExt, DuplexStream};
use tokio::sync::mpsc;
use tokio::time::{Duration, Instant, sleep, sleep_until};

/// A day in April.
const WALL_CLOCK_US: i64 = 1_807_000_000_000_000;
const ROWS_IN_FRAME: u32 = 8;
const INTERVAL_US: u32 = 1_000;
/// How long the cable is out.
const AWAY: Duration = Duration::from_millis(400);

/// What the world counts.
#[derive(Debug, Default)]
struct Counted {
    rows_sent: AtomicU64,
    opened: AtomicU64,
    bytes_written: AtomicU64,
}

/// A disk that only counts.
#[derive(Clone, Debug)]
struct Forgetful(Arc<Counted>);

impl Disk for Forgetful {
    fn folder(&self) -> &Path {
        Path::new("forgotten")
    }
    fn is_there(&self) -> bool {
        true
    }
    fn beside(&mut self) -> io::Result<Box<dyn Disk>> {
        Ok(Box::new(self.clone()))
    }
    fn create(&mut self, _: &str) -> io::Result<Box<dyn DiskFile>> {
        Ok(Box::new(self.clone()))
    }
    fn replace(&mut self, _: &str, _: &[u8]) -> io::Result<()> {
        Ok(())
    }
    fn sync_names(&mut self) -> io::Result<()> {
        Ok(())
    }
    fn discard(&mut self) {}
}

impl DiskFile for Forgetful {
    fn append<'a>(&'a mut self, bytes: &'a [u8]) -> Call<'a> {
        self.0.bytes_written.fetch_add(bytes.len() as u64, Ordering::Relaxed);
        Box::pin(async { Ok(()) })
    }
    fn cut_to(&mut self, _: u64) -> Call<'_> {
        Box::pin(async { Ok(()) })
    }
    fn read(&mut self, _: u64, _: usize) -> Call<'_, Vec<u8>> {
        Box::pin(async { Ok(Vec::new()) })
    }
    fn sync(&mut self) -> Call<'_> {
        Box::pin(async { Ok(()) })
    }
}

struct World {
    began: Instant,
    calls: mpsc::UnboundedSender<DuplexStream>,
    plugged: Arc<AtomicU64>,
    wishes: Mutex<Option<mpsc::Receiver<Wish>>>,
    counted: Arc<Counted>,
}

impl Ports for World {
    fn claim(&self, _: &Path) -> Result<Option<PortLock>, PortError> {
        Ok(None)
    }
    fn others(&self) -> String {
        String::new()
    }

    fn open(&self, port: &Path, _: u32) -> Result<OpenPort, PortError> {
        let missing = || PortError::Missing { port: port.to_owned(), others: String::new() };
        if self.plugged.load(Ordering::Relaxed) == 0 {
            return Err(missing());
        }
        let (ours, theirs) = tokio::io::duplex(4_096);
        self.calls.send(theirs).map_err(|_| missing())?;
        self.counted.opened.fetch_add(1, Ordering::Relaxed);
        Ok(OpenPort::unlocked(Box::new(ours)))
    }
}

impl Host for World {
    fn wall_clock(&self) -> jiff::Timestamp {
        let us = i64::try_from(self.began.elapsed().as_micros()).unwrap();
        jiff::Timestamp::from_microsecond(WALL_CLOCK_US + us).unwrap()
    }
    fn wishes(&self) -> io::Result<mpsc::Receiver<Wish>> {
        self.wishes.lock().unwrap().take().ok_or_else(|| io::Error::other("asked twice"))
    }
    fn make_folder(&self, _: &Destination, _: &str, _: f64) -> Result<Box<dyn Disk>, RecordError> {
        Ok(Box::new(Forgetful(Arc::clone(&self.counted))))
    }
    fn do_beside(&self, work: Beside) -> io::Result<()> {
        tokio::spawn(work);
        Ok(())
    }
}

fn hello() -> Hello {
    let channels = [
        ("pull", ChannelKind::Pull, 24),
        ("tail", ChannelKind::TailDeflection, 16),
        ("depth", ChannelKind::Depth, 16),
    ]
    .map(|(name, kind, adc_bits)| Channel {
        name: Label::new(name).unwrap(),
        kind,
        adc_bits,
        rate_mhz: 1_000_000,
    });
    let name = Label::new("tireless").unwrap();
    Hello::new(1, (1, 0, 0), 1_000_000, Label::new("T-1").unwrap(), name, &channels).unwrap()
}

/// A box that samples whether its cable is in or not, and knows only how many rows it sent.
struct Tireless {
    began: Instant,
    next_row: u32,
    heard: PortDecoder,
    counted: Arc<Counted>,
}

impl Tireless {
    /// Sends so many frames, then lets go of the cable; whether the host was there to the end.
    async fn send(&mut self, mut link: DuplexStream, frames: u32) -> io::Result<()> {
        link.write_all(encode(&Frame::Hello(hello())).as_bytes()).await?;
        self.heard.reset();
        let row_us = u64::from(INTERVAL_US);
        // Rows that were sampled while the cable was out are gone.
        self.next_row = u32::try_from(self.began.elapsed().as_micros() as u64 / row_us).unwrap() + 1;
        let mut buffer = [0; 256];
        for _ in 0..frames {
            let end_us = u64::from(self.next_row + ROWS_IN_FRAME) * row_us;
            let due = self.began + Duration::from_micros(end_us);
            loop {
                tokio::select! {
                    biased;
                    read = link.read(&mut buffer) => {
                        let read = read?;
                        if read == 0 {
                            return Ok(());
                        }
                        self.answer(&mut link, &buffer[..read]).await?;
                    }
                    () = sleep_until(due) => break,
                }
            }
            let counts: Vec<i32> = (self.next_row..self.next_row + ROWS_IN_FRAME)
                .flat_map(|row| {
                    [5 + (row % 4_000_000) as i32, 5 + (row % 16_000) as i32, 7 + (row % 15_000) as i32]
                })
                .collect();
            let clock_us = self.next_row.wrapping_mul(INTERVAL_US);
            let readings = Readings::new(self.next_row, clock_us, INTERVAL_US, 3, &counts).unwrap();
            link.write_all(encode(&Frame::Readings(readings)).as_bytes()).await?;
            self.next_row += ROWS_IN_FRAME;
            self.counted.rows_sent.fetch_add(u64::from(ROWS_IN_FRAME), Ordering::Relaxed);
        }
        // What is on the line arrives before the cable is out.
        sleep(Duration::from_millis(20)).await;
        Ok(())
    }

    async fn answer(&mut self, link: &mut DuplexStream, mut bytes: &[u8]) -> io::Result<()> {
        while let Some(event) = self.heard.next_event(&mut bytes) {
            let answer = match event {
                Event::Frame(Frame::Start) => Frame::Hello(hello()),
                Event::Frame(Frame::Ping { token }) => {
                    Frame::Time(Time { token, clock_us: self.began.elapsed().as_micros() as u32 })
                }
                _ => continue,
            };
            link.write_all(encode(&answer).as_bytes()).await?;
        }
        Ok(())
    }
}

/// Memory of this process that is in use, in KiB, and its open files.
fn held_now() -> (u64, usize) {
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap();
    let kib = line.trim().trim_end_matches("kB").trim().parse().unwrap();
    (kib, std::fs::read_dir("/proc/self/fd").unwrap().count())
}

/// Lets the cable go so often, so many frames after it was put back, and demands that all be flat after a tenth.
async fn goes_on(reconnects: u32, frames: u32, grows_kib_at_most: u64) {
    let began = Instant::now();
    let counted = Arc::new(Counted::default());
    let (calls, mut called) = mpsc::unbounded_channel();
    let (wish, wishes) = mpsc::channel(8);
    let plugged = Arc::new(AtomicU64::new(1));
    let host = Arc::new(World {
        began,
        calls,
        plugged: Arc::clone(&plugged),
        wishes: Mutex::new(Some(wishes)),
        counted: Arc::clone(&counted),
    });
    let ports = vec![PathBuf::from("/dev/box0")];
    let config = record_config(&Sensor::BASIC, (ports, None), Begin::AtOnce).unwrap();
    let held = Arc::new(Mutex::new(BTreeMap::new()));
    let (kept, its) = (Arc::clone(&held), Arc::clone(&counted));
    tokio::spawn(async move {
        let mut tireless = Tireless { began, next_row: 0, heard: PortDecoder::new(), counted: its };
        for round in 0..=reconnects {
            let Some(link) = called.recv().await else { return };
            // A recorder that lets go of the line itself is seen in what was sent.
            let _ = tireless.send(link, frames).await;
            plugged.store(0, Ordering::Relaxed);
            sleep(AWAY).await;
            plugged.store(1, Ordering::Relaxed);
            if round % (reconnects / 10) == 0 {
                kept.lock().unwrap().insert(round / (reconnects / 10), held_now());
            }
        }
        let _ = wish.send(Wish::End("a signal")).await;
        std::future::pending::<()>().await;
    });
    let recorded = record_on(host, &config, &mut NoView).await.unwrap().last.unwrap();
    let held = held.lock().unwrap().clone();
    let sent = counted.rows_sent.load(Ordering::Relaxed);
    let [counters] = &recorded.counters[..] else { panic!("{recorded:?}") };
    let written = counters.rows + counters.rows_before_start;
    let opened = counted.opened.load(Ordering::Relaxed);
    println!(
        "{:.1} h: opened {opened} times, {sent} rows in {} frames sent, {written} written, {} bytes; by tenths (KiB, files) {held:?}",
        recorded.lasted_s / 3600.0,
        sent / u64::from(ROWS_IN_FRAME),
        counted.bytes_written.load(Ordering::Relaxed),
    );
    assert!(opened > u64::from(reconnects) && counters.reconnects >= u64::from(reconnects), "{counters:?}");
    assert_eq!(sent, u64::from(reconnects + 1) * u64::from(frames) * u64::from(ROWS_IN_FRAME));
    assert_eq!(written, sent, "what reaches the port is written: {counters:?}");
    let (early, late) = (held[&1], held[&10]);
    assert!(late.0 <= early.0 + grows_kib_at_most, "{held:?}");
    assert_eq!(early.1, late.1, "{held:?}");
}

fn let_go_on(reconnects: u32, frames: u32, grows_kib_at_most: u64) {
    let runtime =
        tokio::runtime::Builder::new_current_thread().enable_time().start_paused(true).build().unwrap();
    runtime.block_on(goes_on(reconnects, frames, grows_kib_at_most));
}

#[test]
fn memory_and_files_stay_flat_over_reconnects() {
    let_go_on(300, 100, 512);
}

#[test]
#[ignore = "ten million frames: minutes"]
fn memory_and_files_stay_flat_over_ten_million_frames() {
    let_go_on(10_000, 1_000, 1_024);
}
