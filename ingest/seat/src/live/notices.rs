//! What there is to know, in lines: the last ones, each with its number.

use super::snapshot::{NoticeLine, RunNow};
use std::collections::VecDeque;

/// Notices that are kept.
const KEPT: usize = 20;
/// Of them so many warnings: a flood of either kind leaves room for the other.
const WARNINGS_KEPT: usize = 10;
/// So many warnings, the newest, go before what is only to be known.
const WARNINGS_FIRST: usize = 3;
/// Characters of a notice that are kept.
const CHARACTERS: usize = 400;

/// The last notices.
#[derive(Debug, Default)]
pub(super) struct Notices {
    last: VecDeque<NoticeLine>,
    count: u64,
}

impl Notices {
    /// Takes in one that is said at this live time, s, in this run.
    pub fn push(&mut self, line: &str, warning: bool, t_s: f64, run: Option<&RunNow>) {
        self.count += 1;
        if self.last.len() >= KEPT {
            let warnings = self.last.iter().filter(|one| one.warning).count();
            let of_many = warnings > WARNINGS_KEPT || warnings == WARNINGS_KEPT && warning;
            let place = self.last.iter().position(|one| one.warning == of_many).unwrap_or(0);
            self.last.remove(place);
        }
        let now = jiff::Timestamp::now().to_zoned_datetime(jiff::tz::TimeZone::system());
        self.last.push_back(NoticeLine {
            number: self.count,
            t_s,
            at: now.strftime("%H:%M").to_string(),
            run: run.map(|run| run.name.clone()),
            warning,
            text: line.chars().take(CHARACTERS).collect(),
        });
    }

    /// All that are kept, in the order in which they matter.
    pub fn as_they_matter(&self) -> Vec<NoticeLine> {
        let newest = || self.last.iter().rev();
        let first: Vec<_> = newest().filter(|one| one.warning).take(WARNINGS_FIRST).collect();
        let is_other = |one: &&NoticeLine| first.iter().all(|before| before.number != one.number);
        first.iter().copied().chain(newest().filter(is_other)).cloned().collect()
    }

    /// Those after this number, of those that are kept.
    pub fn after(&self, number: u64) -> Vec<NoticeLine> {
        self.last.iter().filter(|notice| notice.number > number).cloned().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::plow::ShareCondition;

    #[test]
    fn notices_are_the_last_ones_and_none_is_endless() {
        let mut notices = Notices::default();
        for number in 1..=50 {
            notices.push(&format!("{number} {}", "x".repeat(1000)), false, 0.0, None);
        }
        let kept = notices.after(0);
        assert_eq!((kept.len(), kept[0].number, kept[19].number), (20, 31, 50));
        assert!(kept.iter().all(|notice| notice.text.chars().count() == CHARACTERS));
        assert_eq!(notices.after(48).len(), 2);
    }

    /// Found: what was lost in a run was pushed off the page by what did no harm, and nobody knew of which run it was.
    #[test]
    fn what_costs_readings_stays_before_what_does_not_with_its_run_and_its_time() {
        let mut notices = Notices::default();
        let run = RunNow::begun("2027-04-11T0914_low", "low", ShareCondition::Sharp);
        notices.push("the disk fails", true, 1.0, Some(&run));
        (0..100).for_each(|number| notices.push(&format!("harmless {number}"), false, 2.0, None));
        let told = notices.as_they_matter();
        assert_eq!((told.len(), told[0].text.as_str()), (KEPT, "the disk fails"));
        assert_eq!(told[0].run.as_deref(), Some("2027-04-11T0914_low"));
        assert!(told[0].at.len() == 5 && told[0].at.as_bytes()[2] == b':', "{}", told[0].at);
        assert_eq!((told[1].text.as_str(), &told[1].run), ("harmless 99", &None));
        // A flood of warnings leaves the rest its room, on the page as well.
        (0..100).for_each(|number| notices.push(&format!("lost {number}"), true, 3.0, Some(&run)));
        let told = notices.as_they_matter();
        let texts: Vec<_> = told.iter().map(|one| one.text.as_str()).collect();
        assert_eq!(texts[..4], ["lost 99", "lost 98", "lost 97", "lost 96"]);
        assert_eq!(told.iter().filter(|one| !one.warning).count(), KEPT - WARNINGS_KEPT);
        notices.push("new, and harmless", false, 4.0, None);
        assert_eq!(notices.as_they_matter()[3].text, "new, and harmless");
    }
}
