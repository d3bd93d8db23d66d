//! One recorder after the other, for ever: waits for the boxes, records, and begins again, whatever happened.

use super::config::{ServiceConfig, StartedBy};
use super::keeper::Desk;
use super::troubles::TroubleKind;
use super::view::ServiceView;
use ingest::plow::Plow;
use ingest::port::{OpenPort, PortError, PortLock, Ports};
use ingest::recorder::{
    Begin, Beside, Controls, Destination, Disk, Host, PassChoice, RecordConfig, RecordError, Wish,
    WishRefused, record_on,
};
use ingest::run_folder::last_pass_of;
use std::io;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::mpsc;

/// Between one look for the boxes and the next.
const BETWEEN: Duration = Duration::from_secs(1);
/// How often the service manager hears of a service that waits.
const TICK: Duration = Duration::from_millis(100);

/// A host whose wishes come from the service.
struct Governed {
    inner: Arc<dyn Host>,
    wishes: Mutex<Option<mpsc::Receiver<Wish>>>,
}

impl Ports for Governed {
    fn claim(&self, port: &Path) -> Result<Option<PortLock>, PortError> {
        self.inner.claim(port)
    }

    fn open(&self, port: &Path, baud: u32) -> Result<OpenPort, PortError> {
        self.inner.open(port, baud)
    }

    fn others(&self) -> String {
        self.inner.others()
    }
}

impl Host for Governed {
    fn wall_clock(&self) -> jiff::Timestamp {
        self.inner.wall_clock()
    }

    fn wishes(&self) -> io::Result<mpsc::Receiver<Wish>> {
        let wishes = self.wishes.lock().unwrap_or_else(PoisonError::into_inner).take();
        wishes.ok_or_else(|| io::Error::other("the wishes of a recorder are taken once"))
    }

    fn make_folder(
        &self,
        destination: &Destination,
        name: &str,
        bytes: f64,
    ) -> Result<Box<dyn Disk>, RecordError> {
        self.inner.make_folder(destination, name, bytes)
    }

    fn do_beside(&self, work: Beside) -> io::Result<()> {
        self.inner.do_beside(work)
    }
}

/// Records until [`Wish::End`] comes: from `wishes`, which carries those of the page and the signals.
pub async fn supervise(
    host: Arc<dyn Host>,
    config: &ServiceConfig,
    desk: &Desk,
    view: &mut ServiceView,
    mut wishes: mpsc::Receiver<Wish>,
    software: &str,
) {
    loop {
        if let Some((plow, number)) = desk.plow() {
            let counted = passes_before(config, host.wall_clock());
            let Some(passes_before) = meanwhile(counted, view, &mut wishes).await else {
                return view.stopping();
            };
            let (controls, theirs) = Controls::new();
            let governed = Arc::new(Governed { inner: Arc::clone(&host), wishes: Mutex::new(Some(theirs)) });
            let choice = view.begins(controls.clone(), config, &plow, number);
            let record = recording(config, (plow, passes_before), choice, software);
            let (outcome, is_end) = govern(record_on(governed, &record, view), &controls, &mut wishes).await;
            // What happened in a run its view was told.
            if let Err(error) = outcome
                && !matches!(error, RecordError::RunsFailed { .. })
            {
                desk.troubles.set(TroubleKind::Waiting, &error.to_string());
            }
            if is_end {
                return view.stopping();
            }
        }
        view.waits();
        if meanwhile(tokio::time::sleep(BETWEEN), view, &mut wishes).await.is_none() {
            return view.stopping();
        }
    }
}

/// What comes of something that is waited for, while the service manager hears of it and wishes are taken; `None` once one
/// of them is the end of the service.
async fn meanwhile<T>(
    awaited: impl Future<Output = T>,
    view: &mut ServiceView,
    wishes: &mut mpsc::Receiver<Wish>,
) -> Option<T> {
    tokio::pin!(awaited);
    loop {
        tokio::select! {
            biased;
            done = &mut awaited => return Some(done),
            wish = wishes.recv() => match wish {
                Some(Wish::End(_)) | None => return None,
                Some(Wish::Choose(choice)) => view.choose(&choice),
                Some(wish) => view.not_now(&wish),
            },
            () = tokio::time::sleep(TICK) => view.waits(),
        }
    }
}

/// How many passes of today are in the folder of runs, where the plow begins them. A disk may take its time to say so, hence
/// on another thread.
async fn passes_before(config: &ServiceConfig, now: jiff::Timestamp) -> u32 {
    if config.started_by == StartedBy::Hand {
        return 0;
    }
    let today = now.to_zoned_datetime(jiff::tz::TimeZone::system()).strftime("%Y-%m-%d").to_string();
    let runs = config.runs.clone();
    tokio::task::spawn_blocking(move || last_pass_of(&runs, &today)).await.unwrap_or(0)
}

/// A recorder until it ends, given all wishes; and whether one of them was the end of the service.
async fn govern<T>(
    recording: impl Future<Output = T>,
    controls: &Controls,
    wishes: &mut mpsc::Receiver<Wish>,
) -> (T, bool) {
    tokio::pin!(recording);
    let mut ends: Option<Wish> = None;
    loop {
        if let Some(wish) = &ends
            && controls.wish(wish.clone()) != Err(WishRefused::Busy)
        {
            let outcome = recording.await;
            return (outcome, true);
        }
        tokio::select! {
            biased;
            outcome = &mut recording => return (outcome, ends.is_some()),
            wish = wishes.recv(), if ends.is_none() => match wish {
                Some(wish @ Wish::End(_)) => ends = Some(wish),
                // The page is told by what it sees that a wish was one too many.
                Some(wish) => { let _ = controls.wish(wish); }
                None => ends = Some(Wish::End("the end of the service")),
            },
            () = tokio::time::sleep(Duration::from_millis(10)), if ends.is_some() => {}
        }
    }
}

fn recording(
    config: &ServiceConfig,
    (plow, passes_before): (Plow, u32),
    choice: PassChoice,
    software: &str,
) -> RecordConfig {
    RecordConfig {
        ports: config.ports.clone(),
        baud: config.baud,
        gnss: config.gnss.clone(),
        plow,
        begin: match config.started_by {
            StartedBy::Plow => Begin::WhenInGround,
            StartedBy::Hand => Begin::OnStart,
        },
        setting_name: choice.setting_name,
        setting_assumed: choice.assumed,
        share: choice.share,
        field: choice.field,
        soil: None,
        soil_class: None,
        note: choice.note,
        destination: Destination::In(config.runs.clone()),
        duration: None,
        stop_when_gone: None,
        passes_before,
        software: software.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::keeper;
    use super::super::notify::Notify;
    use super::*;

    fn config_in(folder: &Path, started_by: &str) -> ServiceConfig {
        let file = folder.join("recorder.toml");
        let text = format!(
            "plow = \"plow.toml\"\nsetting = \"low\"\nstarted_by = \"{started_by}\"\n[runs]\nfolder = \"runs\"\n\
             [[boxes]]\nport = \"port\"\n"
        );
        std::fs::write(&file, text).unwrap();
        ServiceConfig::read(&file).unwrap()
    }

    #[tokio::test]
    async fn passes_of_today_are_counted_where_the_plow_begins_them() {
        let folder = tempfile::tempdir().unwrap();
        let now: jiff::Timestamp = "2027-04-11T12:00:00Z".parse().unwrap();
        let today = now.to_zoned_datetime(jiff::tz::TimeZone::system()).strftime("%Y-%m-%d").to_string();
        std::fs::create_dir_all(folder.path().join(format!("runs/{today}T0914_low_pass-7"))).unwrap();
        for (started_by, expected) in [("plow", 7), ("hand", 0)] {
            assert_eq!(passes_before(&config_in(folder.path(), started_by), now).await, expected);
        }
    }

    #[tokio::test(start_paused = true)]
    async fn the_end_of_the_service_is_heard_while_something_is_waited_for_that_never_comes() {
        let folder = tempfile::tempdir().unwrap();
        let config = config_in(folder.path(), "plow");
        let desk = Arc::new(Desk::default());
        let run_ended = keeper::begin(&config, Arc::clone(&desk)).unwrap();
        let (controls, mut wishes) = Controls::new();
        let mut view = ServiceView::new(Notify::to(None, None), desk, run_ended, controls.clone());
        assert_eq!(meanwhile(async { 7 }, &mut view, &mut wishes).await, Some(7));
        controls.wish(Wish::Mark).unwrap();
        controls.wish(Wish::End("a signal")).unwrap();
        assert_eq!(meanwhile(std::future::pending::<()>(), &mut view, &mut wishes).await, None);
    }
}
