//! What is wrong now, of each kind one sentence, and since when.

use super::snapshot::{Trouble, TroubleKind};
use ingest::recorder::{Progress, without_readings};
use std::collections::BTreeMap;

/// What is wrong now.
#[derive(Debug, Default)]
pub(super) struct Troubles(BTreeMap<TroubleKind, Trouble>);

impl Troubles {
    /// Something is wrong, or no longer; at this live time, s.
    pub fn set(&mut self, kind: TroubleKind, text: Option<String>, age_s: f64) {
        match text {
            Some(text) => {
                let known = self.0.entry(kind);
                known.or_insert_with(|| Trouble { kind, text: String::new(), since_s: age_s }).text = text;
            }
            None => {
                self.0.remove(&kind);
            }
        }
    }

    /// Takes in how the recording goes.
    pub fn progress(&mut self, progress: &Progress, age_s: f64) {
        let away: Vec<&str> = progress.boxes_away.iter().flatten().map(String::as_str).collect();
        let lost = match (progress.rows_lost, progress.without_readings_ms) {
            (0, 0) => None,
            (1, 0) => Some("1 row lost in this run".to_owned()),
            (lost, 0) => Some(format!("{lost} rows lost in this run")),
            (0, without_ms) => Some(format!("{} in this run", without_readings(without_ms))),
            (lost, without_ms) => {
                Some(format!("{lost} rows lost and {} in this run", without_readings(without_ms)))
            }
        };
        let so = |is_so: bool, text: &str| is_so.then(|| text.to_owned());
        for (kind, text) in [
            (TroubleKind::PortAway, so(!away.is_empty(), &away.join("; "))),
            (TroubleKind::NoRows, so(progress.no_rows, "a box answers, but no rows come")),
            (
                TroubleKind::ClockApart,
                so(progress.clock_apart, "the clock of a box runs apart from the computer's"),
            ),
            (TroubleKind::NoReceiver, progress.no_receiver.clone()),
            (TroubleKind::NoFix, so(progress.has_no_fix, "the receiver has no fix")),
            (
                TroubleKind::DiskFails,
                progress.disk_trouble.as_ref().map(|what| format!("the disk fails: {what}")),
            ),
            (TroubleKind::RowsLost, lost),
        ] {
            self.set(kind, text, age_s);
        }
    }

    /// Whether one that is not the service's is told by this sentence, or by its beginning.
    pub fn tells(&self, sentence: &str) -> bool {
        self.0.values().any(|one| one.kind != TroubleKind::Service && sentence.starts_with(&one.text))
    }

    /// In the order in which they matter.
    pub fn now(&self) -> Vec<Trouble> {
        self.0.values().cloned().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_receiver_is_told_after_what_costs_rows_and_the_same_is_told_once() {
        let mut troubles = Troubles::default();
        let away = "waiting for /dev/plow: there is no such port";
        let none = "without the GNSS receiver: waiting for /dev/gnss: there is no such port";
        let progress = Progress {
            boxes_away: vec![Some(away.to_owned())],
            no_receiver: Some(none.to_owned()),
            disk_trouble: Some("full".to_owned()),
            ..Progress::default()
        };
        troubles.progress(&progress, 3.0);
        let texts: Vec<_> = troubles.now().into_iter().map(|one| one.text).collect();
        assert_eq!(texts, [away, "the disk fails: full", none]);
        assert!(troubles.tells(&format!("{away}; {none}")) && !troubles.tells("waiting for /dev/other"));
        let told_of = |rows_lost, without_readings_ms| {
            let mut troubles = Troubles::default();
            troubles.progress(&Progress { rows_lost, without_readings_ms, ..Progress::default() }, 3.0);
            troubles.now().into_iter().map(|one| one.text).collect::<String>()
        };
        assert_eq!(told_of(1, 0), "1 row lost in this run");
        assert_eq!(told_of(0, 40_250), "40.2 s without readings in this run");
        assert_eq!(told_of(7, 900), "7 rows lost and 0.9 s without readings in this run");
        troubles.progress(&Progress::default(), 4.0);
        assert!(troubles.now().is_empty());
    }
}
