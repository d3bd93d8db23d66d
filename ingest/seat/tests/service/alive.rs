//! What the watchdog hears comes from the recorder's own loop: one that hangs is silent, whatever else goes on.

use super::rig::Rig;
use super::scripted_box::Act;
use ingest::port::{OpenPort, PortError, PortLock, Ports};
use ingest::recorder::{Beside, Computer, Destination, Disk, Host, RecordError, Wish};
use seat::service::config::ServiceConfig;
use seat::service::notify::Notify;
use seat::service::serve_on;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use tokio::sync::mpsc;

/// A computer whose clock does not answer while it is told so: a call of the loop that does not come back.
struct Hanging {
    computer: Computer,
    hangs: Arc<AtomicBool>,
}

impl Ports for Hanging {
    fn claim(&self, port: &Path) -> Result<Option<PortLock>, PortError> {
        self.computer.claim(port)
    }

    fn open(&self, port: &Path, baud: u32) -> Result<OpenPort, PortError> {
        self.computer.open(port, baud)
    }
}

impl Host for Hanging {
    fn wall_clock(&self) -> jiff::Timestamp {
        while self.hangs.load(Ordering::Relaxed) {
            std::thread::sleep(Duration::from_millis(5));
        }
        self.computer.wall_clock()
    }

    fn wishes(&self) -> std::io::Result<mpsc::Receiver<Wish>> {
        self.computer.wishes()
    }

    fn make_folder(&self, to: &Destination, name: &str, bytes: f64) -> Result<Box<dyn Disk>, RecordError> {
        self.computer.make_folder(to, name, bytes)
    }

    fn do_beside(&self, work: Beside) -> std::io::Result<()> {
        self.computer.do_beside(work)
    }
}

/// The program itself would be killed by the manager; here its loop is let go again, and is heard again.
#[test]
fn a_loop_that_hangs_is_not_said_to_be_alive() {
    let mut rig = Rig::new();
    let config = ServiceConfig::read(&rig.path("recorder.toml")).unwrap();
    let hangs = Arc::new(AtomicBool::new(false));
    let host = Arc::new(Hanging { computer: Computer::without_keyboard(), hangs: Arc::clone(&hangs) });
    let address = rig.path("notify").to_string_lossy().into_owned();
    let notify = Notify::to(Some(&address), Some(Duration::from_millis(400)));
    // It serves until this process ends: signals are the program's, and tested with it.
    std::thread::spawn(move || serve_on(host, &config, notify, "test").unwrap());
    let _acts = rig.plug(vec![Act::Send(3000)]);
    rig.wait_to_hear("STATUS=standing by");
    let alive = |rig: &mut Rig| {
        let before = rig.heard().iter().filter(|message| *message == "WATCHDOG=1").count();
        std::thread::sleep(Duration::from_millis(1000));
        rig.heard().iter().filter(|message| *message == "WATCHDOG=1").count() - before
    };
    assert!(alive(&mut rig) >= 4);
    hangs.store(true, Ordering::Relaxed);
    std::thread::sleep(Duration::from_millis(200));
    assert_eq!(alive(&mut rig), 0, "the loop hangs, and something says that it is alive");
    // The other threads live: the keeper reads the plow description meanwhile.
    hangs.store(false, Ordering::Relaxed);
    std::thread::sleep(Duration::from_millis(200));
    assert!(alive(&mut rig) >= 4);
}
