//! Which runs may go: by age, by the share of the disk that all of them take, and never one that is not copied unless
//! that was told.

use super::config::Keep;
use super::run_files::RunHere;
use ingest::run_toml::RunState;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Why a run may go.
#[derive(Clone, Copy, Debug, PartialEq, Eq, strum::Display)]
pub enum Reason {
    /// It began longer ago than it is to be kept.
    #[strum(to_string = "older than keep_days")]
    Age,
    /// All runs together take more of the disk than they may.
    #[strum(to_string = "the runs take more than keep_share_of_disk")]
    Share,
}

/// What is to be done.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// Runs that go, in this order.
    pub go: Vec<(PathBuf, Reason)>,
    /// Runs that would go if they had been copied.
    pub not_copied: Vec<PathBuf>,
    /// Share of the disk that the runs still take when all that may go is gone, where that is too much.
    pub still_over: Option<f64>,
}

/// Which of the runs (the oldest first) go now. `disk_bytes` is the size of the disk that they are on, if it is known.
///
/// A run that has not ended stays, and so does the newest. Age counts only while the newest run is young enough to stay by
/// itself: a clock that is wrong by years looks as if every run were old.
#[must_use]
pub fn plan(
    runs: &[RunHere],
    is_copied: impl Fn(&Path) -> bool,
    keep: &Keep,
    now: jiff::Timestamp,
    disk_bytes: Option<u64>,
) -> Plan {
    let mut plan = Plan::default();
    let Some((newest, older)) = runs.split_last() else { return plan };
    let age_days = |run: &RunHere| now.duration_since(run.started).as_secs_f64() / 86_400.0;
    let is_old = |run: &RunHere| keep.days.is_some_and(|days| age_days(run) > days);
    let clock_is_right = !is_old(newest) && age_days(newest) >= -1.0;
    let mut taken: u64 = runs.iter().map(|run| run.bytes).sum();
    let may_take = keep.share_of_disk.zip(disk_bytes).map(|(share, disk)| share * disk as f64);
    let is_over = |taken: u64| may_take.is_some_and(|most| taken as f64 > most);
    let mut not_copied = BTreeSet::new();
    let mut gone = BTreeSet::new();
    for reason in [Reason::Age, Reason::Share] {
        for run in older {
            let wanted = match reason {
                Reason::Age => clock_is_right && is_old(run),
                Reason::Share => is_over(taken),
            };
            if !wanted || run.state == RunState::Recording || gone.contains(&run.folder) {
                continue;
            }
            if keep.delete_uncopied || is_copied(&run.folder) {
                taken = taken.saturating_sub(run.bytes);
                gone.insert(run.folder.clone());
                plan.go.push((run.folder.clone(), reason));
            } else {
                not_copied.insert(run.folder.clone());
            }
        }
    }
    plan.not_copied = not_copied.into_iter().collect();
    plan.still_over = disk_bytes.filter(|_| is_over(taken)).map(|disk| taken as f64 / disk as f64);
    plan
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(name: &str, days_ago: i64, mb: u64) -> RunHere {
        let started = now() - jiff::SignedDuration::from_hours(24 * days_ago);
        RunHere { folder: PathBuf::from(name), started, state: RunState::Ended, bytes: mb * 1_000_000 }
    }

    fn now() -> jiff::Timestamp {
        "2027-10-01T12:00:00Z".parse().unwrap()
    }

    fn keep(days: Option<f64>, share_of_disk: Option<f64>) -> Keep {
        Keep { days, share_of_disk, delete_uncopied: false }
    }

    fn names(plan: &Plan) -> Vec<&str> {
        plan.go.iter().map(|(folder, _)| folder.to_str().unwrap()).collect()
    }

    #[test]
    fn what_is_old_and_copied_goes_and_nothing_else() {
        let runs = [run("a", 40, 1), run("b", 35, 1), run("c", 31, 1), run("d", 29, 1), run("e", 0, 1)];
        let copied = |folder: &Path| folder != Path::new("b");
        let by_age = plan(&runs, copied, &keep(Some(30.0), None), now(), None);
        assert_eq!(names(&by_age), ["a", "c"]);
        assert_eq!(by_age.not_copied, [Path::new("b")]);
        assert_eq!(plan(&runs, copied, &Keep::default(), now(), Some(1)), Plan::default());
        let told = Keep { delete_uncopied: true, ..keep(Some(30.0), None) };
        assert_eq!(names(&plan(&runs, |_| false, &told, now(), None)), ["a", "b", "c"]);
        assert_eq!(plan(&[], copied, &told, now(), None), Plan::default());
    }

    #[test]
    fn the_oldest_go_until_the_rest_takes_no_more_than_its_share() {
        let runs = [run("a", 5, 20), run("b", 4, 20), run("c", 3, 20), run("d", 2, 20), run("e", 1, 20)];
        let half = keep(None, Some(0.5));
        let to_half = plan(&runs, |_| true, &half, now(), Some(100_000_000));
        assert_eq!((names(&to_half), to_half.still_over), (vec!["a", "b", "c"], None));
        // What is not copied stays, and younger ones that are go instead.
        let uncopied = plan(&runs, |folder| folder != Path::new("a"), &half, now(), Some(100_000_000));
        assert_eq!((names(&uncopied), uncopied.still_over), (vec!["b", "c", "d"], None));
        let none = plan(&runs, |_| false, &half, now(), Some(100_000_000));
        assert_eq!((names(&none).len(), none.not_copied.len(), none.still_over), (0, 4, Some(1.0)));
        // The newest stays, however large.
        let tiny = plan(&runs, |_| true, &keep(None, Some(0.01)), now(), Some(100_000_000));
        assert_eq!((names(&tiny).len(), tiny.still_over), (4, Some(0.2)));
        assert_eq!(plan(&runs, |_| true, &half, now(), None), Plan::default());
    }

    /// A computer without a battery clock begins in 1970; one with a wrong one may be years ahead.
    #[test]
    fn a_clock_that_is_wrong_makes_no_run_old() {
        let runs = [run("a", 400, 1), run("b", 31, 1), run("c", 1, 1)];
        let month = keep(Some(30.0), None);
        assert_eq!(names(&plan(&runs, |_| true, &month, now(), None)), ["a", "b"]);
        for wrong in [
            "1970-01-01T00:10:00Z",
            "2024-01-01T00:00:00Z",
            "2027-09-28T00:00:00Z",
            "2031-01-01T00:00:00Z",
            "2099-01-01T00:00:00Z",
        ] {
            assert_eq!(
                plan(&runs, |_| true, &month, wrong.parse().unwrap(), None),
                Plan::default(),
                "{wrong}"
            );
        }
    }

    #[test]
    fn a_run_that_has_not_ended_stays() {
        let recording = RunHere { state: RunState::Recording, ..run("a", 90, 50) };
        let runs = [recording, run("b", 80, 50), run("c", 0, 1)];
        let told = Keep { delete_uncopied: true, ..keep(Some(30.0), Some(0.01)) };
        assert_eq!(names(&plan(&runs, |_| false, &told, now(), Some(1_000_000_000))), ["b"]);
    }

    #[test]
    fn what_is_just_as_old_or_takes_just_as_much_as_it_may_stays_and_none_goes_twice() {
        let runs = [run("a", 30, 25), run("b", 20, 25), run("c", 10, 25), run("d", 0, 25)];
        assert_eq!(plan(&runs, |_| true, &keep(Some(30.0), None), now(), None), Plan::default());
        let half =
            |days: Option<f64>| plan(&runs, |_| true, &keep(days, Some(0.5)), now(), Some(100_000_000));
        assert_eq!((names(&half(None)), half(None).still_over), (vec!["a", "b"], None));
        let both = half(Some(25.0));
        assert_eq!(both.go, [(PathBuf::from("a"), Reason::Age), (PathBuf::from("b"), Reason::Share)]);
    }
}
