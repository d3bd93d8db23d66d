//! What the service makes of what the recorder shows: the log, the status of the unit, and that its loop is alive.

use super::keeper::{Desk, RunEnded};
use super::notify::Notify;
use super::troubles::TroubleKind;
use ingest::recorder::{BegunRun, Controls, LiveRows, Progress, RecordError, RecordedRun, View, Wish};
use std::sync::Arc;

/// Where the recorder is.
#[derive(Clone, Debug, Default, PartialEq)]
enum Phase {
    /// No run can begin yet.
    #[default]
    Waiting,
    StandsBy,
    /// A run of this name, with what there is to say of it.
    Recording(String, String),
}

/// The recorder's view, for as long as the service runs; each recording has it in turn.
pub struct ServiceView {
    notify: Notify,
    desk: Arc<Desk>,
    run_ended: RunEnded,
    phase: Phase,
    /// To what a new plow description ends a recorder that stands by, and the number of the one that it has.
    controls: Option<(Controls, u64)>,
    beside: Option<Box<dyn View>>,
}

impl ServiceView {
    /// A view that shows all of it to `beside` as well.
    #[must_use]
    pub fn new(notify: Notify, desk: Arc<Desk>, run_ended: RunEnded, beside: Option<Box<dyn View>>) -> Self {
        Self { notify, desk, run_ended, phase: Phase::Waiting, controls: None, beside }
    }

    /// A recorder is about to begin with the plow description of this number.
    pub fn begins(&mut self, controls: Controls, plow_number: u64) {
        self.controls = Some((controls, plow_number));
    }

    /// Nothing is being recorded, nor could be: called while the service waits.
    pub fn waits(&mut self) {
        self.phase = Phase::Waiting;
        self.controls = None;
        self.say_status();
        self.notify.ready();
        self.notify.alive();
    }

    /// The end was asked for.
    pub fn stopping(&mut self) {
        self.notify.stopping();
    }

    fn say_status(&mut self) {
        let troubles = self.desk.troubles.now();
        let waits_for = troubles.iter().find(|(kind, _)| *kind == TroubleKind::Waiting);
        let mut line = match &self.phase {
            Phase::Waiting => match waits_for {
                Some((_, why)) => format!("waiting: {why}"),
                None if self.desk.plow_number() == 0 => "waiting for a plow description".to_owned(),
                None => "waiting for its boxes".to_owned(),
            },
            Phase::StandsBy => "standing by: the boxes answer".to_owned(),
            Phase::Recording(name, how) => format!("recording {name}{how}"),
        };
        for (_, sentence) in troubles.iter().filter(|(kind, _)| *kind != TroubleKind::Waiting) {
            line.push_str("; ");
            line.push_str(sentence);
        }
        self.notify.status(&line);
    }

    /// A recorder that stands by takes up a new plow description.
    fn take_up_plow(&self) {
        if let (Phase::StandsBy, Some((controls, number))) = (&self.phase, &self.controls)
            && self.desk.plow_number() != *number
        {
            // Asked for again at the next tick, if the recorder is busy now.
            let _ = controls.wish(Wish::End("a new plow description"));
        }
    }
}

impl View for ServiceView {
    fn stands_by(&mut self) {
        self.desk.troubles.clear(TroubleKind::Waiting);
        if self.phase != Phase::StandsBy {
            tracing::info!("standing by");
        }
        self.phase = Phase::StandsBy;
        self.say_status();
        self.notify.ready();
        self.notify.alive();
        self.beside.iter_mut().for_each(|view| view.stands_by());
    }

    fn began(&mut self, run: &BegunRun) {
        self.desk.troubles.clear(TroubleKind::Waiting);
        self.desk.set_in_progress(Some(run.folder.clone()));
        let name = run.folder.file_name().unwrap_or_default().to_string_lossy().into_owned();
        tracing::info!(run = %name, setting = run.setting_name.as_str(), "run began");
        self.phase = Phase::Recording(name, String::new());
        self.say_status();
        self.beside.iter_mut().for_each(|view| view.began(run));
    }

    fn readings(&mut self, rows: &LiveRows<'_>) {
        self.beside.iter_mut().for_each(|view| view.readings(rows));
    }

    fn progress(&mut self, progress: &Progress) {
        if let Phase::Recording(_, how) = &mut self.phase {
            *how = how_it_goes(progress);
        }
        self.take_up_plow();
        self.say_status();
        self.notify.alive();
        self.beside.iter_mut().for_each(|view| view.progress(progress));
    }

    fn notice(&mut self, line: &str) {
        tracing::warn!(text = line, "notice");
        self.beside.iter_mut().for_each(|view| view.notice(line));
    }

    fn ended(&mut self, run: &Result<RecordedRun, RecordError>) {
        self.desk.set_in_progress(None);
        match run {
            Ok(run) => {
                let sum =
                    |of: fn(&ingest::assemble::RunCounters) -> u64| run.counters.iter().map(of).sum::<u64>();
                tracing::info!(
                    run = %run.folder.display(),
                    lasted_s = run.lasted_s,
                    rows = sum(|counters| counters.rows),
                    rows_lost = sum(|counters| counters.rows_lost),
                    end = %run.end,
                    "run ended"
                );
            }
            Err(error) => tracing::error!(text = %error, "run failed"),
        }
        self.phase = Phase::Waiting;
        self.run_ended.tell();
        self.beside.iter_mut().for_each(|view| view.ended(run));
    }
}

/// By the minute, as the service manager logs what changes.
fn how_it_goes(progress: &Progress) -> String {
    let mut how = format!(", {:.0} min", (progress.t_s / 60.0).floor());
    if progress.rows_lost > 0 {
        how.push_str(", rows lost");
    }
    let wrong = [
        (progress.port_is_away, "a port is away"),
        (progress.no_rows, "no rows come"),
        (progress.clock_apart, "a clock runs apart"),
        (progress.has_no_fix, "no fix"),
    ];
    for (_, what) in wrong.iter().filter(|(is_so, _)| *is_so) {
        how.push_str(", ");
        how.push_str(what);
    }
    if let Some(trouble) = &progress.disk_trouble {
        how.push_str(&format!(", the disk fails: {trouble}"));
    }
    how
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_status_says_what_is_wrong_and_changes_by_the_minute() {
        let mut progress = Progress { t_s: 61.0, rows: 10, ..Progress::default() };
        assert_eq!(how_it_goes(&progress), ", 1 min");
        (progress.t_s, progress.port_is_away, progress.disk_trouble) = (119.9, true, Some("full".to_owned()));
        progress.rows_lost = 3;
        assert_eq!(how_it_goes(&progress), ", 1 min, rows lost, a port is away, the disk fails: full");
    }
}
