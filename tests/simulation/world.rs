//! A world with a recorder in it: boxes, cables, a disk, a wall clock and a person, in simulated time.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};

use held::record_config;
use held::truth::TrueRow;
use ingest::port::{OpenPort, PortError, PortLock, Ports};
use ingest::recorder::{
    Begin, BegunRun, Beside, Destination, Disk, GnssPort, Host, RecordConfig, RecordError, RecordedRun, View,
    Wish, record_on,
};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use tokio::io::DuplexStream;
use tokio::sync::mpsc;
use tokio::time::{Duration, Instant, sleep, sleep_until};

use crate::disk::SimDisk;
use crate::plan::{Ending, Plan};
use crate::receiver::{Receiver, SharedEpochs, TrueEpoch};
use crate::sensor_box::{Known, OWN, SENSORS, SensorBox, SharedKnown};

/// Bytes that a line holds.
const LINE_BYTES: usize = 64 * 1024;

/// A cable that is in or out.
#[derive(Clone, Debug)]
pub struct Plug(Arc<AtomicBool>);

impl Plug {
    pub fn set(&self, is_in: bool) {
        self.0.store(is_in, Ordering::Relaxed);
    }
}

pub struct Socket {
    plug: Plug,
    calls: mpsc::UnboundedSender<DuplexStream>,
}

struct World {
    began: Instant,
    sockets: BTreeMap<PathBuf, Socket>,
    clock_steps: Vec<(f64, f64)>,
    wishes: Mutex<Option<mpsc::Receiver<Wish>>>,
    disk: SimDisk,
}

/// Opens a port of these.
pub fn open_socket(sockets: &BTreeMap<PathBuf, Socket>, port: &Path) -> Result<OpenPort, PortError> {
    let missing = || PortError::Missing { port: port.to_owned(), others: String::new() };
    let socket = sockets.get(port).filter(|socket| socket.plug.0.load(Ordering::Relaxed));
    let (ours, theirs) = tokio::io::duplex(LINE_BYTES);
    socket.ok_or_else(missing)?.calls.send(theirs).map_err(|_| missing())?;
    Ok(OpenPort::unlocked(Box::new(ours)))
}

/// A day in April.
const WALL_CLOCK_US: i64 = 1_807_000_000_000_000;

/// The wall clock so many s after the beginning, which steps.
pub fn wall_clock_at(now_s: f64, steps: &[(f64, f64)]) -> jiff::Timestamp {
    let stepped: f64 = steps.iter().filter(|(at_s, _)| *at_s <= now_s).map(|(_, by_s)| by_s).sum();
    jiff::Timestamp::from_microsecond(WALL_CLOCK_US + ((now_s + stepped) * 1e6) as i64).unwrap()
}

impl Ports for World {
    fn claim(&self, _: &Path) -> Result<Option<PortLock>, PortError> {
        Ok(None)
    }

    fn others(&self) -> String {
        String::new()
    }

    fn open(&self, port: &Path, _: u32) -> Result<OpenPort, PortError> {
        open_socket(&self.sockets, port)
    }
}

impl Host for World {
    fn wall_clock(&self) -> jiff::Timestamp {
        wall_clock_at(self.began.elapsed().as_secs_f64(), &self.clock_steps)
    }

    fn wishes(&self) -> io::Result<mpsc::Receiver<Wish>> {
        self.wishes.lock().unwrap().take().ok_or_else(|| io::Error::other("asked twice"))
    }

    fn make_folder(&self, _: &Destination, _: &str, _: f64) -> Result<Box<dyn Disk>, RecordError> {
        Ok(Box::new(self.disk.clone()))
    }

    fn do_beside(&self, work: Beside) -> io::Result<()> {
        tokio::spawn(work);
        Ok(())
    }
}

/// What the person sees, and when.
#[derive(Debug)]
struct Seen {
    began: Instant,
    notices: Vec<(f64, String)>,
}

impl View for Seen {
    fn began(&mut self, _: &BegunRun) {
        self.notice("began");
    }
    fn notice(&mut self, line: &str) {
        self.notices.push((self.began.elapsed().as_secs_f64(), line.to_owned()));
    }
}

/// What is left of a world.
#[derive(Debug)]
pub struct Left {
    /// How the recorder ended; `None` where the power was cut.
    pub recorded: Option<Result<RecordedRun, RecordError>>,
    /// Where the run is at last.
    pub folder: PathBuf,
    /// The files of the run, by name.
    pub files: BTreeMap<String, Vec<u8>>,
    /// What each box knows.
    pub known: Vec<Known>,
    /// What the receiver knows.
    pub epochs: Vec<TrueEpoch>,
    /// The channels of each box, by their places in [`SENSORS`].
    pub channels: Vec<Vec<usize>>,
    /// What the person was told, and when, in s after the beginning.
    pub notices: Vec<(f64, String)>,
    /// When it ended, in s.
    pub until_s: f64,
    /// Something was not on the disk at the end.
    pub is_unsynced: bool,
    /// A power cut took something, or the disk what it had said to be kept.
    pub is_cut: bool,
}

impl Left {
    /// Writes its files into a folder, and the rows of each box.
    pub fn keep(&self, folder: &Path) -> io::Result<()> {
        std::fs::create_dir_all(folder)?;
        for (name, content) in &self.files {
            std::fs::write(folder.join(name), content)?;
        }
        for (number, known) in self.known.iter().enumerate() {
            std::fs::write(folder.join(format!("truth{number}.csv")), lines_of(known))?;
        }
        Ok(())
    }
}

/// The rows of a box, to be read.
pub fn lines_of(Known { rows, .. }: &Known) -> String {
    let line = |row: &TrueRow| {
        let TrueRow { boot, number, fate, t_s, host_s, counts } = row;
        format!("{boot},{number},{fate:?},{t_s:.6},{host_s:.6},{counts:?}\n")
    };
    rows.iter().map(line).collect()
}

/// Lets a world go by. The same plan leaves the same, to the last byte.
pub fn let_go_by(plan: &Plan) -> Left {
    let runtime =
        tokio::runtime::Builder::new_current_thread().enable_time().start_paused(true).build().unwrap();
    runtime.block_on(go_by(plan))
}

/// The boxes of a plan at work: where they are plugged in, what they know, and the channels of each by their places in
/// [`SENSORS`].
pub fn plug_in(plan: &Plan) -> (BTreeMap<PathBuf, Socket>, Vec<SharedKnown>, Vec<Vec<usize>>) {
    // No two rows of a box are the same to the digits that are written: the pull alone has enough of them.
    let mut channels: Vec<Vec<usize>> = match plan.boxes.len() {
        1 => vec![vec![0, 1, 2]],
        2 => vec![vec![0, 1], vec![2, 3]],
        _ => vec![vec![0], vec![1, 2], vec![3, 4]],
    };
    if let Some(number) = plan.own {
        channels[number].push(OWN);
    }
    let mut sockets = BTreeMap::new();
    let mut known: Vec<SharedKnown> = Vec::new();
    for (number, channels) in channels.iter().enumerate().take(plan.boxes.len()) {
        let (calls, called) = mpsc::unbounded_channel();
        let plug = Plug(Arc::new(AtomicBool::new(true)));
        let its = SharedKnown::default();
        let sensor_box =
            SensorBox::new((number, plan), channels.clone(), plug.clone(), called, Arc::clone(&its));
        tokio::spawn(sensor_box.run());
        known.push(its);
        sockets.insert(PathBuf::from(format!("/dev/box{number}")), Socket { plug, calls });
    }
    (sockets, known, channels)
}

/// The receiver of a plan at work, if it has one: where it is plugged in, and what it knows.
pub fn plug_in_receiver(
    plan: &Plan,
    sockets: &mut BTreeMap<PathBuf, Socket>,
) -> (Option<GnssPort>, SharedEpochs) {
    let epochs = SharedEpochs::default();
    let gnss = plan.receiver.as_ref().map(|receiver| {
        let (calls, called) = mpsc::unbounded_channel();
        let plug = Plug(Arc::new(AtomicBool::new(true)));
        let its = (receiver.clone(), plan.sleeps.clone());
        let receiver = Receiver::new(plan.seed, its, plug.clone(), called, Arc::clone(&epochs));
        tokio::spawn(receiver.run());
        let port = PathBuf::from("/dev/gnss");
        sockets.insert(port.clone(), Socket { plug, calls });
        GnssPort { port, baud: 9_600 }
    });
    (gnss, epochs)
}

/// What the recorder is told: to record boxes with these channels, and a receiver.
pub fn config_of(
    channels: &[Vec<usize>],
    ports: (Vec<PathBuf>, Option<GnssPort>),
    begin: Begin,
) -> RecordConfig {
    let sensors: Vec<_> = channels.iter().flatten().map(|at| SENSORS[*at]).collect();
    record_config(&sensors, ports, begin).unwrap()
}

async fn go_by(plan: &Plan) -> Left {
    let began = Instant::now();
    let (mut sockets, known, channels) = plug_in(plan);
    let ports = sockets.keys().cloned().collect();
    let (gnss, epochs) = plug_in_receiver(plan, &mut sockets);
    let (wish, wishes) = mpsc::channel(8);
    let disk = SimDisk::new("simulated".into(), began, plan.disk.clone(), plan.folder_gone_s.clone());
    let config = RecordConfig {
        duration: (plan.ending == Ending::Duration).then(|| Duration::from_secs_f64(plan.lasts_s)),
        ..config_of(&channels, (ports, gnss), Begin::AtOnce)
    };
    let host = Arc::new(World {
        began,
        sockets,
        clock_steps: plan.steps(),
        wishes: Mutex::new(Some(wishes)),
        disk: disk.clone(),
    });
    let at = move |s: f64| began + Duration::from_secs_f64(s);
    let (marks, ends_at, signals) = (plan.marks_s.clone(), at(plan.lasts_s), plan.ending == Ending::Signal);
    tokio::spawn(async move {
        for mark_s in marks {
            sleep_until(at(mark_s)).await;
            let _ = wish.send(Wish::Mark).await;
        }
        sleep_until(ends_at).await;
        if signals {
            let _ = wish.send(Wish::End("a signal")).await;
        }
        // The person stays.
        std::future::pending::<()>().await;
    });
    let mut seen = Seen { began, notices: Vec::new() };
    let recorded = tokio::select! {
        biased;
        recorded = record_on(host, &config, &mut seen) => Some(recorded.map(|recorded| recorded.last.unwrap())),
        () = sleep_until(ends_at), if plan.ending == Ending::PowerCut => None,
        () = sleep(Duration::from_secs_f64(plan.lasts_s + 300.0)) => panic!("seed {}: the recorder does not end", plan.seed),
    };
    let is_unsynced = disk.is_unsynced();
    let files = if recorded.is_none() || plan.cut_after_end {
        disk.after_power_cut(&mut ChaCha8Rng::seed_from_u64(plan.seed ^ 0xC07))
    } else {
        disk.contents()
    };
    let epochs = std::mem::take(&mut *epochs.lock().unwrap());
    let is_cut = files != disk.contents() || disk.is_betrayed();
    let until_s = began.elapsed().as_secs_f64();
    let known = known.iter().map(|known| std::mem::take(&mut *known.lock().unwrap())).collect();
    Left {
        recorded,
        folder: disk.last_folder(),
        files,
        known,
        epochs,
        channels,
        notices: seen.notices,
        until_s,
        is_unsynced,
        is_cut,
    }
}
