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
            let (controls, theirs) = Controls::new();
            let governed = Arc::new(Governed { inner: Arc::clone(&host), wishes: Mutex::new(Some(theirs)) });
            let choice = view.begins(controls.clone(), config, &plow, number);
            let record = recording(config, (plow, host.wall_clock()), choice, software);
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
        let until = tokio::time::Instant::now() + BETWEEN;
        while tokio::time::Instant::now() < until {
            view.waits();
            match tokio::time::timeout(TICK, wishes.recv()).await {
                Ok(Some(Wish::End(_)) | None) => return view.stopping(),
                Ok(Some(Wish::Choose(choice))) => view.choose(&choice),
                Ok(Some(wish)) => view.not_now(&wish),
                Err(_) => {}
            }
        }
    }
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
    (plow, now): (Plow, jiff::Timestamp),
    choice: PassChoice,
    software: &str,
) -> RecordConfig {
    let today = now.to_zoned_datetime(jiff::tz::TimeZone::system()).strftime("%Y-%m-%d").to_string();
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
        share: choice.share,
        field: choice.field,
        soil: None,
        soil_class: None,
        note: choice.note,
        destination: Destination::In(config.runs.clone()),
        duration: None,
        stop_when_gone: None,
        passes_before: last_pass_of(&config.runs, &today),
        software: software.to_owned(),
    }
}
