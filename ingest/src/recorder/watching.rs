//! What is looked at beside the readings: the host's clock, the disk, and how it all goes.

use super::by_plow::ByPlow;
use super::host::Host;
use super::state::Recorder;
use super::{Begins, Progress};
use crate::plow::ChannelRole;
use crate::wire_file::WireEvent;
use crate::writer::{FolderNews, SharedState, WriterState};
use std::sync::PoisonError;
use std::time::Duration;
use tokio::time::Instant;

/// How often silence, the disk and the end are looked at.
pub(super) const TICK: Duration = Duration::from_millis(100);
/// A step of the host's wall clock against its monotonic one worth noting.
const STEP_US: i64 = 500_000;
/// The disk among the ports, as what notices are of.
const DISK: usize = usize::MAX;
/// A disk that has not answered for this long stalls.
const STALL: Duration = Duration::from_secs(2);

impl Recorder<'_> {
    pub(super) fn check_wall_clock(&mut self) {
        let now_us = wall_less_monotonic_us(self.host.as_ref(), self.ledger.epoch);
        let step_us = now_us.saturating_sub(self.wall_less_monotonic_us);
        if step_us.abs() >= STEP_US {
            self.wall_less_monotonic_us = now_us;
            for number in 0..self.ports() {
                self.on_event(number, Instant::now(), WireEvent::ClockStep { step_us });
            }
        }
    }

    pub(super) fn tell_trouble(&mut self, state: &SharedState) {
        let state = {
            let mut state = state.lock().unwrap_or_else(PoisonError::into_inner);
            let news = std::mem::take(&mut state.news);
            WriterState { news, ..state.clone() }
        };
        for news in &state.news {
            self.tell_folder(news);
        }
        let stalled = state.alive.elapsed();
        let trouble = state.trouble.map(|why| format!("the disk fails: {why}"));
        let trouble = trouble.or_else(|| {
            (stalled >= STALL)
                .then(|| format!("the disk has not answered for {:.0} s", stalled.as_secs_f64()))
        });
        match trouble {
            Some(why) if !self.trouble_told => {
                self.trouble_told = true;
                let line = format!("{why}; readings wait in memory");
                self.notices.show(self.view, (DISK, "fails"), &line);
            }
            None if self.trouble_told => {
                self.trouble_told = false;
                self.notices.show(self.view, (DISK, "well"), "the disk is well again");
            }
            _ => {}
        }
    }

    fn tell_folder(&mut self, news: &FolderNews) {
        match news {
            FolderNews::Gone(folder) => {
                let gone = format!(
                    "the run folder {} was deleted or moved away: the run is written again beside it, from its beginning",
                    folder.display()
                );
                self.view.warning(&gone);
                self.set_away(Some(gone));
            }
            FolderNews::GoesOn(folder) => {
                self.view.warning(&format!("the recording goes on in {}; nothing is lost", folder.display()));
                let is_back = self.run.as_ref().is_some_and(|run| run.folder == *folder);
                self.set_away((!is_back).then(|| {
                    format!(
                        "the folder of this run was deleted or moved away: the recording goes on beside it in {}, \
                         whole from its beginning",
                        folder.display()
                    )
                }));
                // After the end of the run nothing more goes into it.
                if self.run.as_ref().is_some_and(|run| !run.queue.is_closed()) {
                    let name = folder.file_name().unwrap_or_default().to_string_lossy().into_owned();
                    self.on_event(0, Instant::now(), WireEvent::NewFolder(name));
                }
            }
        }
    }

    fn set_away(&mut self, away: Option<String>) {
        self.run.iter_mut().for_each(|run| run.away.clone_from(&away));
    }

    pub(super) fn progress(&self, state: Option<&SharedState>) -> Progress {
        let trouble =
            |state: &SharedState| state.lock().unwrap_or_else(PoisonError::into_inner).trouble.clone();
        let now = Instant::now();
        let mut progress = Progress { disk_trouble: state.and_then(trouble), ..Progress::default() };
        if let Some(run) = &self.run {
            progress.folder_away.clone_from(&run.away);
            progress.still_written.clone_from(&run.still_written);
        }
        progress.begins = self.by_plow.as_ref().map_or(Begins::ByHand, ByPlow::begins);
        for connection in &self.connections {
            if state.is_some() {
                let (now, before) = (connection.so_far(), connection.before_run);
                progress.rows += now.rows.saturating_sub(before.rows);
                progress.rows_lost += now.rows_lost.saturating_sub(before.rows_lost);
                progress.without_readings_ms +=
                    now.without_readings_ms.saturating_sub(before.without_readings_ms);
                progress.rows_refused += now.rows_refused.saturating_sub(before.rows_refused);
                progress.marks += now.marks.saturating_sub(before.marks);
            }
            let watch = &connection.watch;
            progress.boxes_away.push(watch.waits(now).or_else(|| watch.is_silent(now)));
            progress.no_rows |= connection.live.misses_rows();
            progress.clock_apart |= connection.live.clock().apart.is_some();
            if let Some(row) = &connection.last_row {
                let run_us = row.t_us.saturating_sub(connection.began_us);
                progress.t_s = progress.t_s.max(if state.is_some() { run_us as f64 / 1e6 } else { 0.0 });
                progress.latest.extend(
                    connection.live.columns().roles.iter().copied().zip(row.values().iter().copied()),
                );
            }
        }
        if let Some(gnss) = &self.gnss {
            progress.no_receiver = gnss.lacking(now);
            progress.has_no_fix = gnss.live.has_fix == Some(false);
            let shown = progress.latest.iter().any(|(role, _)| *role == ChannelRole::Speed);
            let speed = gnss.last_fix.map(|fix| (ChannelRole::Speed, fix.speed_mps));
            progress.latest.extend(speed.filter(|_| !shown && progress.no_receiver.is_none()));
        }
        progress
    }
}

/// By how much the wall clock is ahead of the monotonic one: changes when the former is set.
pub fn wall_less_monotonic_us(host: &dyn Host, epoch: Instant) -> i64 {
    // 63 bits of µs last for 290,000 years to either side.
    host.wall_clock().as_microsecond() - epoch.elapsed().as_micros() as i64
}
