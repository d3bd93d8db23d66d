//! What one kind of system has and another has not, of what the seat needs beside `ingest::system`: priorities, and the
//! means to hold a child process down.

use std::process::{Child, Command};
use std::time::Duration;

/// What a child process is held to.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Hold {
    /// How much else goes before it, 0 to 19.
    pub nice: i32,
    /// How long it may take.
    pub time: Duration,
    /// Largest file that it may write, in bytes.
    pub file_bytes: u64,
}

/// Everything else goes before the calling thread.
pub(crate) fn lower_priority() {
    // On Linux this is of the calling thread alone; where it is not allowed, nothing is lost.
    #[cfg(target_os = "linux")]
    let _ = rustix::process::nice(10);
}

/// A restarted program need not wait for the connections of the one before to be forgotten. On other systems the option
/// means something else.
pub(crate) const REUSES_ADDRESS: bool = cfg!(unix);

/// The child and what it starts end together.
pub(crate) fn in_own_group(command: &mut Command) {
    #[cfg(unix)]
    std::os::unix::process::CommandExt::process_group(command, 0);
    #[cfg(not(unix))]
    let _ = command;
}

/// Ends what a child started, and the child, if it still runs.
pub(crate) fn kill_group(child: &Child) {
    #[cfg(unix)]
    {
        use rustix::process::{Pid, Signal, kill_process_group};
        let _ = kill_process_group(Pid::from_child(child), Signal::KILL);
    }
    #[cfg(not(unix))]
    let _ = child;
}

/// Holds a child down. Each of these can fail, on some systems and for a child that has ended already; whoever waits for it
/// holds it to its time in any case.
#[cfg(target_os = "linux")]
pub(crate) fn hold(child: &Child, to: Hold) {
    use rustix::process::{Pid, Resource, Rlimit, prlimit, setpriority_process};
    let pid = Pid::from_child(child);
    let _ = setpriority_process(Some(pid), to.nice);
    // Where memory runs out in spite of all, the system ends the child and not the recorder.
    let _ = std::fs::write(format!("/proc/{}/oom_score_adj", child.id()), "1000");
    let limit = |resource, most| {
        let _ = prlimit(Some(pid), resource, Rlimit { current: Some(most), maximum: Some(most) });
    };
    // What is free now, less a quarter: the recorder's files are written through it.
    if let Some(free) = ingest::memory::free_bytes() {
        limit(Resource::Data, free / 4 * 3);
    }
    limit(Resource::Fsize, to.file_bytes);
    limit(Resource::Core, 0);
    // Should this program be killed, nobody watches the clock any more; four cores use that up in a quarter of the time.
    limit(Resource::Cpu, 4 * to.time.as_secs().max(1));
}

#[cfg(all(unix, not(target_os = "linux")))]
pub(crate) fn hold(child: &Child, to: Hold) {
    let _ = rustix::process::setpriority_process(Some(rustix::process::Pid::from_child(child)), to.nice);
}

#[cfg(not(unix))]
pub(crate) fn hold(_: &Child, _: Hold) {}
