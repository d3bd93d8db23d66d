//! The status file: the snapshot as JSON, put in place of the one before at once, so that a reader never sees half
//! of it; and how much space is left.

use super::{Live, TroubleKind};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Weak};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

const EVERY: Duration = Duration::from_secs(1);
/// Less free space is nearly none.
const NEARLY_FULL_BYTES: u64 = 500_000_000;
/// A disk that does not answer holds up the end no longer than this.
const END_WITHIN: Duration = Duration::from_millis(500);

/// Keeps the status; ends when this is dropped.
#[derive(Debug)]
pub struct StatusKeeper {
    end: Sender<()>,
    thread: JoinHandle<()>,
}

impl StatusKeeper {
    /// The recorder ends: what its status was is so no longer, and the file goes.
    pub fn recorder_ends(self) {
        // A thread that is gone has nothing more to do.
        let _ = self.end.send(());
        let begun = Instant::now();
        while !self.thread.is_finished() && begun.elapsed() < END_WITHIN {
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

/// Looks once a second how much space is left where `runs` are, and writes the status into `file` if there is one, on
/// a thread of its own that ends with the last other holder of `live`, or with the [`StatusKeeper`].
///
/// # Errors
/// If the system gives no thread, or the file cannot be written at all.
pub fn keep_status(live: &Arc<Live>, runs: PathBuf, file: Option<PathBuf>) -> io::Result<StatusKeeper> {
    if let Some(file) = &file {
        write_status(live, file)?;
    }
    let live = Arc::downgrade(live);
    let (end, ended) = channel();
    let thread = std::thread::Builder::new().name("status".to_owned()).spawn(move || {
        while look(&live, &runs, file.as_deref()) {
            match ended.recv_timeout(EVERY) {
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return,
                Ok(()) => {
                    // It may be gone by another hand.
                    let _ = file.map(std::fs::remove_file);
                    return;
                }
            }
        }
    })?;
    Ok(StatusKeeper { end, thread })
}

fn look(live: &Weak<Live>, runs: &Path, file: Option<&Path>) -> bool {
    let Some(live) = live.upgrade() else { return false };
    let there = runs.ancestors().find(|folder| folder.exists()).unwrap_or(Path::new("."));
    let free = fs4::available_space(there).ok();
    live.set_disk_free(free);
    let nearly_full = free.filter(|free| *free < NEARLY_FULL_BYTES);
    let says = |free: u64| format!("only {} MB are free where runs go", free / 1_000_000);
    live.set_trouble(TroubleKind::DiskNearlyFull, nearly_full.map(says));
    if let Some(file) = file {
        // What cannot be written now may be written in a second; the disk's troubles are told by the recorder.
        let _ = write_status(&live, file);
    }
    true
}

fn write_status(live: &Live, file: &Path) -> io::Result<()> {
    let mut text = serde_json::to_vec_pretty(&live.snapshot())?;
    text.push(b'\n');
    let mut beside = file.as_os_str().to_owned();
    beside.push(".new");
    std::fs::write(&beside, text)?;
    std::fs::rename(&beside, file)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::live::Choice;
    use ingest::plow::read_plow;

    #[test]
    fn the_status_is_whole_json_and_the_free_space_is_known() {
        let plow = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/plows/two-bottom.toml");
        let live =
            Arc::new(Live::new(read_plow(&plow).unwrap(), &[PathBuf::from("/dev/x")], Choice::default()));
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("status.json");
        assert!(look(&Arc::downgrade(&live), &folder.path().join("not/yet"), Some(&file)));
        let status: serde_json::Value = serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap();
        assert_eq!(status["phase"], "listening");
        assert!(status["disk_free_bytes"].as_u64().unwrap() > 0);
        assert!(status["tail_load_n"].is_null());
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left beside it");
        let nowhere =
            keep_status(&live, folder.path().to_owned(), Some(folder.path().join("no/status.json")));
        assert!(nowhere.is_err(), "told at the start");
        let kept = keep_status(&live, folder.path().to_owned(), Some(file.clone())).unwrap();
        kept.recorder_ends();
        assert!(!file.exists(), "nothing says what is so no longer");
        let weak = Arc::downgrade(&live);
        drop(live);
        assert!(!look(&weak, folder.path(), None), "ends with the recording");
    }
}
