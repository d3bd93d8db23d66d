//! A recorder that stands by in a simulated world.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use ingest::port::{OpenPort, PortError, PortLock, Ports};
use ingest::recorder::{
    BegunRun, Beside, Destination, Disk, Host, PassChoice, Progress, RecordError, Recorded, RecordedRun,
    View, Wish, record_on,
};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use tokio::sync::mpsc;
use tokio::time::{Duration, Instant, sleep, sleep_until};

use super::plan::Stand;
use crate::disk::SimDisk;
use crate::plan::{Ending, Plan};
use crate::receiver::TrueEpoch;
use crate::sensor_box::Known;
use crate::world::{Socket, config_of, open_socket, plug_in, plug_in_receiver, wall_clock_at};

struct Seat {
    began: Instant,
    sockets: BTreeMap<PathBuf, Socket>,
    wishes: Mutex<Option<mpsc::Receiver<Wish>>>,
    plan: Plan,
    /// One a run.
    disks: Mutex<Vec<SimDisk>>,
}

impl Ports for Seat {
    fn claim(&self, _: &Path) -> Result<Option<PortLock>, PortError> {
        Ok(None)
    }
    fn open(&self, port: &Path, _: u32) -> Result<OpenPort, PortError> {
        open_socket(&self.sockets, port)
    }
}

impl Host for Seat {
    fn wall_clock(&self) -> jiff::Timestamp {
        wall_clock_at(self.began.elapsed().as_secs_f64(), &self.plan.steps())
    }
    fn wishes(&self) -> io::Result<mpsc::Receiver<Wish>> {
        self.wishes.lock().unwrap().take().ok_or_else(|| io::Error::other("asked twice"))
    }
    fn make_folder(&self, _: &Destination, name: &str, _: f64) -> Result<Box<dyn Disk>, RecordError> {
        let mut disks = self.disks.lock().unwrap();
        let (troubles, gone_s) = (self.plan.disk.clone(), self.plan.folder_gone_s.clone());
        // As a folder of that name is there, perhaps.
        let folder = format!("{name}_{}", disks.len()).into();
        let disk = SimDisk::new(folder, self.began, troubles, gone_s);
        disks.push(disk.clone());
        Ok(Box::new(disk))
    }
    fn do_beside(&self, work: Beside) -> io::Result<()> {
        tokio::spawn(work);
        Ok(())
    }
}

/// What became of a run that was asked for.
#[derive(Clone, Debug, PartialEq)]
pub enum Ended {
    Whole,
    WithoutRows,
    Unwritten,
    NotBegun(String),
}

/// What is told, and when, in s.
#[derive(Default)]
pub struct Seen {
    began: Option<Instant>,
    /// When the ports were ready for a run.
    pub stands_by_s: Vec<f64>,
    /// When each run began to be written, and when that was over.
    pub written_s: Vec<(f64, f64)>,
    live_us: BTreeMap<usize, u64>,
    pub rises: bool,
    /// When it last showed how it goes, and the longest time between two such moments, in s.
    showed_s: f64,
    pub showed_nothing_s: f64,
    pub notices: Vec<(f64, String)>,
    /// How each run ended, those among them that could not begin.
    pub ended: Vec<Ended>,
}

impl Seen {
    fn now_s(&self) -> f64 {
        self.began.map_or(0.0, |began| began.elapsed().as_secs_f64())
    }
}

impl View for Seen {
    fn stands_by(&mut self) {
        self.stands_by_s.push(self.now_s());
    }
    fn began(&mut self, run: &BegunRun) {
        let line = format!("began with {:.3} s before it", run.began_us as f64 / 1e6);
        self.notice(&line);
        self.written_s.push((self.now_s(), f64::INFINITY));
    }
    fn readings(&mut self, live: &ingest::recorder::LiveRows<'_>) {
        for row in live.rows {
            let before = self.live_us.insert(live.number, row.t_us);
            self.rises &= before.is_none_or(|before| before < row.t_us);
        }
    }
    fn progress(&mut self, _: &Progress) {
        let now_s = self.now_s();
        let before_s = std::mem::replace(&mut self.showed_s, now_s);
        self.showed_nothing_s = self.showed_nothing_s.max(now_s - before_s);
    }
    fn notice(&mut self, line: &str) {
        self.notices.push((self.now_s(), line.to_owned()));
    }
    fn ended(&mut self, run: &Result<RecordedRun, RecordError>) {
        let now_s = self.now_s();
        // One that could not begin has none of its own.
        self.written_s.last_mut().into_iter().for_each(|(_, until_s)| *until_s = until_s.min(now_s));
        self.ended.push(match run {
            Ok(_) => Ended::Whole,
            Err(RecordError::NoRows { .. }) => Ended::WithoutRows,
            Err(RecordError::Unwritten { .. }) => Ended::Unwritten,
            Err(error) => Ended::NotBegun(error.to_string()),
        });
    }
}

/// What is left of a run.
pub struct RunLeft {
    /// Where it is at last.
    pub folder: PathBuf,
    /// Its files, by name; none of a run that could not begin.
    pub files: BTreeMap<String, Vec<u8>>,
    /// Something was not on the disk at the end.
    pub is_unsynced: bool,
    /// A power cut took something, or the disk what it had said to be kept.
    pub is_cut: bool,
}

impl RunLeft {
    fn of(disk: &SimDisk, is_cut_off: bool, rng: &mut ChaCha8Rng) -> Self {
        let files = if is_cut_off { disk.after_power_cut(rng) } else { disk.contents() };
        Self {
            folder: disk.last_folder(),
            is_unsynced: disk.is_unsynced(),
            is_cut: files != disk.contents() || disk.is_betrayed(),
            files,
        }
    }
}

/// What is left of a world.
pub struct Left {
    /// How the recorder ended; `None` where the power was cut.
    pub recorded: Option<Result<Recorded, RecordError>>,
    /// The runs, in their order.
    pub runs: Vec<RunLeft>,
    /// What each box knows.
    pub known: Vec<Known>,
    /// What the receiver knows.
    pub epochs: Vec<TrueEpoch>,
    /// The channels of each box.
    pub channels: Vec<Vec<usize>>,
    pub seen: Seen,
}

/// Lets a world go by. The same plan leaves the same, to the last byte.
pub fn let_go_by(stand: &Stand) -> Left {
    let Stand { plan, begin, wishes: runs, .. } = stand.clone();
    let runtime =
        tokio::runtime::Builder::new_current_thread().enable_time().start_paused(true).build().unwrap();
    runtime.block_on(async {
        let began = Instant::now();
        let (mut sockets, known, channels) = plug_in(&plan);
        let ports = sockets.keys().cloned().collect();
        let (gnss, epochs) = plug_in_receiver(&plan, &mut sockets);
        let (wish, wishes) = mpsc::channel(8);
        let config = config_of(&channels, (ports, gnss), begin);
        let seat =
            Arc::new(Seat { began, sockets, wishes: Mutex::new(Some(wishes)), plan: plan.clone(), disks: Mutex::default() });
        let (ends_s, cuts) = (plan.lasts_s, plan.ending == Ending::PowerCut);
        tokio::spawn(async move {
            let at = |s: f64| sleep_until(began + Duration::from_secs_f64(s));
            for (start_s, stop_s) in runs {
                at(start_s).await;
                let choice = PassChoice { setting_name: Some("as-found".to_owned()), ..PassChoice::default() };
                let _ = wish.send(Wish::Start(choice)).await;
                at(0.5 * (start_s + stop_s)).await;
                let _ = wish.send(Wish::Mark).await;
                at(stop_s).await;
                let _ = wish.send(Wish::Stop("the person")).await;
            }
            at(ends_s).await;
            let _ = wish.send(Wish::End("a signal")).await;
            std::future::pending::<()>().await;
        });
        let mut seen = Seen { began: Some(began), rises: true, ..Seen::default() };
        let host = Arc::<Seat>::clone(&seat);
        let recorded = tokio::select! {
            biased;
            recorded = record_on(host, &config, &mut seen) => Some(recorded),
            () = sleep_until(began + Duration::from_secs_f64(ends_s)), if cuts => None,
            () = sleep(Duration::from_secs_f64(ends_s + 300.0)) => panic!("seed {}: it does not end", plan.seed),
        };
        let mut rng = ChaCha8Rng::seed_from_u64(plan.seed ^ 0xC07);
        let is_cut_off = recorded.is_none() || plan.cut_after_end;
        let disks = seat.disks.lock().unwrap().clone();
        let runs = disks.iter().map(|disk| RunLeft::of(disk, is_cut_off, &mut rng)).collect();
        let known = known.iter().map(|known| std::mem::take(&mut *known.lock().unwrap())).collect();
        let epochs = std::mem::take(&mut *epochs.lock().unwrap());
        Left { recorded, runs, known, epochs, channels, seen }
    })
}
