//! What is wrong now, of each kind one sentence, and since when.

use super::snapshot::{Trouble, TroubleKind};
use ingest::recorder::{Progress, Wrong};
use std::collections::BTreeMap;
use strum::VariantArray;

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
        let mut wrong = progress.wrong();
        for one in Wrong::VARIANTS {
            let kind = match one {
                Wrong::DiskFails => TroubleKind::DiskFails,
                Wrong::StillWritten => TroubleKind::StillWritten,
                Wrong::FolderAway => TroubleKind::FolderAway,
                Wrong::PortAway => TroubleKind::PortAway,
                Wrong::NoRows => TroubleKind::NoRows,
                Wrong::ClockApart => TroubleKind::ClockApart,
                Wrong::NoReceiver => TroubleKind::NoReceiver,
                Wrong::NoFix => TroubleKind::NoFix,
            };
            let text = wrong.iter_mut().find(|(what, _)| what == one).map(|(_, text)| std::mem::take(text));
            self.set(kind, text, age_s);
        }
        let lost = progress.losses().in_words();
        let lost = (!lost.is_empty()).then(|| format!("{} in this run", lost.join(", ")));
        self.set(TroubleKind::RowsLost, lost, age_s);
    }

    /// Whether one that is not the service's is told by this sentence, or by its beginning.
    pub fn tells(&self, sentence: &str) -> bool {
        self.0.values().any(|one| one.kind != TroubleKind::Service && sentence.starts_with(&one.text))
    }

    /// The same beside a run of this setting, if there is one: nobody is to be sent to the pins under way.
    pub fn while_recording(&self, setting: Option<&str>) -> Vec<Trouble> {
        let mut troubles = self.now();
        let asked = troubles.iter_mut().filter(|one| one.kind == TroubleKind::Unconfirmed);
        for (one, setting) in asked.zip(setting) {
            one.text = format!(
                "nobody has said that the hitch is in \"{setting}\": it is asked when the run has ended"
            );
        }
        troubles
    }

    /// In the order in which they matter.
    pub fn now(&self) -> Vec<Trouble> {
        self.0.values().cloned().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Found: "look at the pins" stood on the page while the plow worked.
    #[test]
    fn nobody_is_sent_to_the_pins_during_a_run() {
        let mut troubles = Troubles::default();
        let question = "Is the hitch in \"low\"? Engine off, plow lowered and blocked: look at the pins";
        troubles.set(TroubleKind::Unconfirmed, Some(question.to_owned()), 0.0);
        assert_eq!(troubles.while_recording(None)[0].text, question);
        let told = &troubles.while_recording(Some("low"))[0].text;
        assert!(told.contains("in \"low\"") && !told.contains("look"), "{told}");
    }

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
        assert_eq!(texts, ["the disk fails: full", away, none]);
        assert!(troubles.tells(&format!("{away}; {none}")) && !troubles.tells("waiting for /dev/other"));
        let lost = Progress { rows_lost: 7, without_readings_ms: 900, ..Progress::default() };
        troubles.progress(&lost, 4.0);
        let texts: Vec<_> = troubles.now().into_iter().map(|one| one.text).collect();
        assert_eq!(texts, ["7 rows lost, 0.9 s without readings in this run"]);
        troubles.progress(&Progress::default(), 4.0);
        assert!(troubles.now().is_empty());
    }
}
