//! The line of `systemctl status`: what is done or waited for, then what is wrong, the worst first.

use ingest::recorder::{Progress, Wrong};

/// Where the recorder is.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Phase {
    /// No run can begin yet.
    #[default]
    Waiting,
    /// A run can begin.
    StandsBy,
    /// A run of this name is recorded.
    Recording(String),
}

/// The line, in one sentence or several behind semicolons.
///
/// It changes by what happens and not by the second, as the service manager logs what changes: how far a run is follows from
/// since when it goes.
pub fn status_line(phase: &Phase, waits_for: &str, progress: &Progress, others: &[String]) -> String {
    let wrong = progress.wrong();
    let is_silent = wrong.iter().any(|(what, _)| matches!(what, Wrong::PortAway | Wrong::NoRows));
    let begins = match phase {
        Phase::Waiting => waits_for.to_owned(),
        Phase::StandsBy if is_silent => "standing by".to_owned(),
        Phase::StandsBy => "standing by: the boxes answer".to_owned(),
        Phase::Recording(name) => match since(name) {
            Some(time) => format!("recording {name} since {time}"),
            None => format!("recording {name}"),
        },
    };
    let mut parts = vec![begins];
    // While it waits, these are what is waited for.
    if *phase != Phase::Waiting {
        parts.extend(wrong.into_iter().map(|(_, text)| text));
        parts.extend(progress.losses().with(at_least, |ms| at_least(ms.div_ceil(1000))));
    }
    parts.extend(others.iter().cloned());
    parts.join("; ")
}

/// The time of day in the name of a run, which begins `2027-04-11T0914`.
fn since(name: &str) -> Option<String> {
    let digits = name.split_once('T')?.1.get(..4)?;
    let is_time = digits.bytes().all(|byte| byte.is_ascii_digit());
    is_time.then(|| format!("{}:{}", &digits[..2], &digits[2..]))
}

/// So many, in figures that change ten times at most while a count grows by ten times.
fn at_least(count: u64) -> String {
    if count < 10 {
        return count.to_string();
    }
    let ten = 10_u64.pow(count.ilog10());
    format!("{} or more", count / ten * ten)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RUN: &str = "2027-04-11T0914_flat";

    fn line(phase: &Phase, progress: &Progress) -> String {
        status_line(phase, "waiting for /dev/plow: there is no such port", progress, &[])
    }

    #[test]
    fn it_says_what_is_done_since_when_and_what_is_wrong() {
        let recording = Phase::Recording(RUN.to_owned());
        let begins = "recording 2027-04-11T0914_flat since 09:14";
        let mut progress = Progress { t_s: 61.0, rows: 10, ..Progress::default() };
        assert_eq!(line(&recording, &progress), begins);
        progress.t_s = 3600.0;
        assert_eq!(line(&recording, &progress), begins, "the same line all day");
        progress.rows_lost = 1;
        assert_eq!(line(&recording, &progress), format!("{begins}; 1 row lost"));
        (progress.rows_lost, progress.without_readings_ms, progress.rows_refused) = (4711, 900, 3);
        let lost = "4000 or more rows lost; 3 rows refused; 1 s without readings";
        assert_eq!(line(&recording, &progress), format!("{begins}; {lost}"));
        progress =
            Progress { disk_trouble: Some("No space left on device".to_owned()), ..Progress::default() };
        progress.boxes_away = vec![None, Some("waiting for /dev/tractor: it went away".to_owned())];
        let wrong = "the disk fails: No space left on device; waiting for /dev/tractor: it went away";
        assert_eq!(line(&recording, &progress), format!("{begins}; {wrong}"));
        for plain in [begins.len(), begins.len() + "; only 412 MB are free where runs go".len()] {
            assert!(plain <= 80, "{plain}");
        }
    }

    #[test]
    fn the_boxes_answer_only_where_they_do() {
        let mut progress = Progress::default();
        assert_eq!(line(&Phase::StandsBy, &progress), "standing by: the boxes answer");
        progress.boxes_away = vec![Some("waiting for /dev/plow: it went away (hung up)".to_owned())];
        let away = "standing by; waiting for /dev/plow: it went away (hung up)";
        assert_eq!(line(&Phase::StandsBy, &progress), away);
        assert_eq!(line(&Phase::Waiting, &progress), "waiting for /dev/plow: there is no such port", "once");
        progress = Progress { no_rows: true, ..Progress::default() };
        assert_eq!(line(&Phase::StandsBy, &progress), "standing by; a box answers, but no rows come");
        let others = ["only 412 MB are free where runs go".to_owned()];
        let said = status_line(&Phase::StandsBy, "", &Progress::default(), &others);
        assert_eq!(said, "standing by: the boxes answer; only 412 MB are free where runs go");
    }

    #[test]
    fn a_count_that_grows_does_not_fill_the_log() {
        let said: std::collections::BTreeSet<String> = (1..=10_000).map(at_least).collect();
        assert!(said.len() < 40, "{}", said.len());
        assert_eq!(
            [9, 10, 57, 100, 4711].map(at_least),
            ["9", "10 or more", "50 or more", "100 or more", "4000 or more"]
        );
    }

    #[test]
    fn a_name_that_says_no_time_is_none() {
        assert_eq!(since(RUN).as_deref(), Some("09:14"));
        for name in ["", "T", "2027", "2027-04-11T09", "oT12é4", "runTabcd"] {
            assert_eq!(since(name), None, "{name}");
        }
    }
}
