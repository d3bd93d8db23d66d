//! One setting against another: which runs take part, and what is said of them.

use super::desk::Desk;
use super::list::ListedRun;
use super::pages::{Format, PageKey};
use super::queue::Stop;
use super::told::Brief;
use super::{RunName, RunsError};
use crate::reader_units::InBothUnits;
use crate::reader_units::ReaderUnits;
use serde::Serialize;
use std::ffi::OsString;
use std::sync::Arc;

/// How many runs of a setting take part; the newest do.
const RUNS_MAX: usize = 20;

/// The runs of one side.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SideRuns {
    /// Its setting.
    pub setting: String,
    /// The runs that take part, in the order they were driven in.
    pub runs: Vec<RunName>,
    /// Runs that do not, and why.
    pub left_out: Vec<(RunName, String)>,
}

/// A comparison.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Compared {
    /// The plow of all runs.
    pub plow: String,
    /// The day of all runs.
    pub day: String,
    /// One setting.
    pub a: SideRuns,
    /// The other.
    pub b: SideRuns,
    /// What is said of them.
    pub told: Arc<InBothUnits<Brief>>,
}

/// The runs of two settings, of one plow and one day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Sides {
    pub plow: String,
    pub day: String,
    pub a: SideRuns,
    pub b: SideRuns,
}

/// The runs of settings A and B that belong together: of the plow and the day of the newest run among them, or of a plow
/// and a day that were asked for.
fn belong_together(
    runs: &[ListedRun],
    (a, b): (&str, &str),
    (plow, day): (Option<&str>, Option<&str>),
) -> Option<Sides> {
    let of = |run: &&ListedRun| run.setting.as_deref() == Some(a) || run.setting.as_deref() == Some(b);
    let of_day = |run: &&ListedRun| {
        day.is_none_or(|day| run.day() == day) && plow.is_none_or(|plow| run.plow.as_deref() == Some(plow))
    };
    let usable = |run: &&ListedRun| run.usable && !run.recording;
    let newest = runs.iter().filter(usable).filter(of).find(of_day)?;
    let (plow, day) = (newest.plow.clone()?, newest.day().to_owned());
    let side = |setting: &str| {
        let belongs = |run: &&ListedRun| {
            run.setting.as_deref() == Some(setting) && run.plow.as_ref() == Some(&plow) && run.day() == day
        };
        let mut names: Vec<RunName> =
            runs.iter().filter(usable).filter(belongs).take(RUNS_MAX).map(|run| run.name.clone()).collect();
        names.reverse();
        SideRuns { setting: setting.to_owned(), runs: names, left_out: Vec::new() }
    };
    let (a, b) = (side(a), side(b));
    Some(Sides { plow, day, a, b })
}

/// The setting driven last before this run, of the same plow on the same day.
pub(super) fn setting_before(runs: &[ListedRun], name: &RunName) -> Option<String> {
    let at = runs.iter().position(|run| run.name == *name)?;
    let run = runs.get(at)?;
    let is_other = |other: &&ListedRun| {
        other.usable && other.plow == run.plow && other.day() == run.day() && other.setting != run.setting
    };
    runs.get(at..)?.iter().find(is_other)?.setting.clone()
}

impl Desk {
    /// The runs of two settings that can be compared.
    pub fn sides(
        &self,
        (a, b): (&str, &str),
        of: (Option<&str>, Option<&str>),
        stop: &Stop<'_>,
    ) -> Result<Sides, RunsError> {
        if a == b {
            return Err(RunsError::SameSetting);
        }
        let runs = self.list()?.runs;
        let mut sides =
            belong_together(&runs, (a, b), of).ok_or_else(|| RunsError::NoRunsOf(format!("{a} or {b}")))?;
        for side in [&mut sides.a, &mut sides.b] {
            self.leave_out(side, stop)?;
        }
        Ok(sides)
    }

    /// One pass that was too short must not be the end of the whole comparison.
    fn leave_out(&self, side: &mut SideRuns, stop: &Stop<'_>) -> Result<(), RunsError> {
        for name in std::mem::take(&mut side.runs) {
            match self.verdict(&name, stop) {
                Ok(_) => side.runs.push(name),
                Err(RunsError::Says(why) | RunsError::Damaged(why)) => side.left_out.push((name, why)),
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }

    /// Two settings against each other.
    pub fn compare(
        &self,
        settings: (&str, &str),
        day: Option<&str>,
        stop: &Stop<'_>,
    ) -> Result<Compared, RunsError> {
        let Sides { plow, day, a, b } = self.sides(settings, (None, day), stop)?;
        for side in [&a, &b] {
            if side.runs.is_empty() {
                return Err(RunsError::NoRunsOf(side.setting.clone()));
            }
        }
        let told = self.told_of(&a.runs, &b.runs, stop)?;
        Ok(Compared { plow, day, a, b, told })
    }

    /// The page of a run.
    pub fn run_page(
        &self,
        name: &RunName,
        (format, units): (Format, ReaderUnits),
        stop: &Stop<'_>,
    ) -> Result<Vec<u8>, RunsError> {
        if self.is_recording(name) {
            return Err(RunsError::StillRecording);
        }
        let runs = self.stamps(std::iter::once(name))?;
        let key = PageKey { runs, of_a: 0, format, units };
        self.page(key, vec!["summary".into(), self.argument(name)], stop)
    }

    /// The page of a comparison.
    pub fn comparison_page(
        &self,
        settings: (&str, &str),
        day: Option<&str>,
        (format, units): (Format, ReaderUnits),
        stop: &Stop<'_>,
    ) -> Result<Vec<u8>, RunsError> {
        let compared = self.compare(settings, day, stop)?;
        let (a, b) = (&compared.a.runs, &compared.b.runs);
        let key = PageKey { runs: self.stamps(a.iter().chain(b))?, of_a: a.len(), format, units };
        self.page(key, self.compare_arguments(a, b), stop)
    }

    fn page(
        &self,
        key: PageKey,
        mut arguments: Vec<OsString>,
        stop: &Stop<'_>,
    ) -> Result<Vec<u8>, RunsError> {
        if let Some(page) = self.pages.get(&key) {
            return Ok(page);
        }
        let units = key.units;
        self.pages.make(key, |path| {
            let options = ["--brief", "--units", units.option(), "--paper", units.paper(), "-o"];
            arguments.extend(options.map(OsString::from));
            arguments.push(path.into());
            self.ask(&arguments, stop).map(|_| ())
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn run(when: &str, setting: &str, plow: &str) -> ListedRun {
        let name = RunName::parse(&format!("{}_{setting}", when.replace(':', ""))).unwrap();
        ListedRun {
            when: when.to_owned(),
            setting: Some(setting.to_owned()),
            plow: Some(plow.to_owned()),
            usable: true,
            ..ListedRun::unread(&name)
        }
    }

    #[test]
    fn runs_of_another_plow_or_day_take_no_part() {
        let mut runs = vec![
            run("2027-04-12 10:00", "flat", "three"),
            run("2027-04-12 09:00", "middle", "two"),
            run("2027-04-12 08:30", "steep", "two"),
            run("2027-04-12 08:00", "flat", "two"),
            run("2027-04-12 07:00", "flat", "two"),
            run("2027-04-11 08:00", "flat", "two"),
        ];
        let names = |side: &SideRuns| {
            side.runs.iter().map(|name| name.as_str()[11..15].to_owned()).collect::<Vec<_>>()
        };
        let sides = belong_together(&runs, ("steep", "middle"), (None, None)).unwrap();
        assert_eq!((names(&sides.a), names(&sides.b)), (vec!["0830".into()], vec!["0900".into()]));
        // The newest of the two is the other plow's.
        let sides = belong_together(&runs, ("flat", "middle"), (None, None)).unwrap();
        assert_eq!(
            (sides.plow.as_str(), names(&sides.a), names(&sides.b)),
            ("three", vec!["1000".into()], vec![])
        );
        runs[0].usable = false;
        let sides = belong_together(&runs, ("flat", "middle"), (None, None)).unwrap();
        assert_eq!(names(&sides.a), ["0700", "0800"], "in the order they were driven in");
        let sides = belong_together(&runs, ("flat", "middle"), (None, Some("2027-04-11"))).unwrap();
        assert_eq!((names(&sides.a), names(&sides.b)), (vec!["0800".into()], vec![]));
        assert_eq!(belong_together(&runs, ("flat", "middle"), (None, Some("2027-04-10"))), None);
        assert_eq!(setting_before(&runs, &runs[1].name).as_deref(), Some("steep"));
        assert_eq!(setting_before(&runs, &runs[2].name).as_deref(), Some("flat"));
        assert_eq!(setting_before(&runs, &runs[4].name), None);
    }
}
