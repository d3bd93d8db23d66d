//! Whether the person was told of each fault that costs rows, within its time, and of whom.

use held::truth::Fate;
use ingest::run_event::EventKind;

use crate::disk::{DiskFault, DiskTrouble};
use crate::plan::{BoxFault, Plan, ReceiverFault};
use crate::receiver::{Came, TrueEpoch};
use crate::sensor_box::Known;

/// Nothing is told of what is so near to the end of a world, in s.
const END_S: f64 = 0.5;

/// How it begins that a box answers and brings no rows.
const NO_ROWS: &str = EventKind::NoRows.in_words();

/// What a person sees of a world.
pub struct Seen<'a> {
    /// Lines, and when they came, in s.
    pub notices: &'a [(f64, String)],
    /// From when on rows are wanted, and what costs any is told, in s.
    pub live_s: f64,
    /// From when to when runs were written, in s.
    pub runs: Vec<(f64, f64)>,
    /// What each box knows.
    pub known: &'a [Known],
    /// What the receiver knows.
    pub epochs: &'a [TrueEpoch],
}

/// Of whom a line is.
#[derive(Clone, Copy, Debug)]
enum Of {
    Computer,
    Box(usize),
    Receiver,
}

/// Steps of the wall clock of half a second and more, in time and out of each other's way.
pub fn steps_alone(plan: &Plan) -> impl Iterator<Item = (f64, f64)> {
    let steps = plan.steps();
    let others = steps.clone();
    steps.into_iter().filter(move |(at_s, by_s)| {
        let near = others.iter().filter(|(other_s, _)| (other_s - at_s).abs() < 0.3).count();
        by_s.abs() >= 0.5 && near == 1
    })
}

/// Each fault that costs rows was told to the person within its time.
pub fn told(plan: &Plan, seen: &Seen) -> Result<(), String> {
    let told = Told { plan, seen };
    for (at_s, _) in steps_alone(plan) {
        for number in 0..plan.boxes.len() {
            told.must(Of::Box(number), EventKind::ClockStep.in_words(), (at_s, 0.5))?;
        }
    }
    told.disk()?;
    told.receiver()?;
    (0..plan.boxes.len()).try_for_each(|number| told.of_box(number))
}

struct Told<'a> {
    plan: &'a Plan,
    seen: &'a Seen<'a>,
}

impl Told<'_> {
    /// It was told with these words within so many s of a moment.
    fn must(&self, of: Of, words: &str, (from_s, within_s): (f64, f64)) -> Result<(), String> {
        let is_over = from_s < self.seen.live_s || from_s + within_s > self.plan.lasts_s - END_S;
        let mut in_time = self
            .seen
            .notices
            .iter()
            .filter(|(told_s, _)| *told_s >= from_s - 0.2 && *told_s <= from_s + within_s);
        if is_over || in_time.any(|(_, line)| self.says(of, line, words)) {
            Ok(())
        } else {
            Err(format!("not told as \"{words}\" of {of:?} within {within_s} s of {from_s:.1} s"))
        }
    }

    /// Whether a line is of this one, and begins with these words after its time and name. What is of the computer has
    /// neither.
    fn says(&self, of: Of, line: &str, words: &str) -> bool {
        let said = line.split_once(" s: ").filter(|(t_s, _)| t_s.parse::<f64>().is_ok());
        let said = said.map_or(line, |(_, said)| said);
        let said = match of {
            Of::Computer => return line.contains(words),
            Of::Box(_) if self.plan.boxes.len() == 1 => Some(said),
            Of::Box(0) => said.strip_prefix("plow: "),
            Of::Box(number) => said.strip_prefix(&*format!("box-{number}: ")),
            Of::Receiver => said.strip_prefix("gnss: "),
        };
        said.is_some_and(|said| said.starts_with(words))
    }

    /// Whether a run is written all the while.
    fn is_written(&self, from_s: f64, until_s: f64) -> bool {
        self.seen.runs.iter().any(|(began_s, ended_s)| *began_s <= from_s && until_s <= *ended_s)
    }

    fn disk(&self) -> Result<(), String> {
        let sent_between = |from_s: f64, to_s: f64| {
            let mut rows = self.seen.known.iter().flat_map(|known| &known.rows);
            rows.any(|row| row.fate == Fate::Sent && from_s <= row.host_s && row.host_s <= to_s)
        };
        let is_told = |trouble: &&DiskTrouble| trouble.fault != DiskFault::Lies;
        for trouble in self.plan.disk.iter().filter(is_told) {
            let DiskTrouble { from_s, until_s, fault } = *trouble;
            let (within_s, words) = match fault {
                DiskFault::Stalls => (3.0, "the disk has not answered for"),
                _ => (1.0, "the disk fails"),
            };
            // What comes over another is told with it.
            let near = |other: &&DiskTrouble| other.from_s < until_s + 1.0 && from_s < other.until_s + 1.0;
            let is_alone = self.plan.disk.iter().filter(is_told).filter(near).count() == 1;
            // A disk is not asked for anything while no box says anything, nor between runs.
            if !is_alone
                || until_s - from_s <= within_s
                || !sent_between(from_s, from_s + 0.25)
                || !self.is_written(from_s, from_s + within_s)
            {
                continue;
            }
            self.must(Of::Computer, words, (from_s, within_s))?;
            if self.is_written(from_s, until_s + 1.0) {
                self.must(Of::Computer, "the disk is well again", (until_s, 1.0))?;
            }
        }
        for gone_s in &self.plan.folder_gone_s {
            // A disk that is busy or fails takes its time.
            let mut troubles = self.plan.disk.iter();
            if troubles.any(|trouble| trouble.from_s < gone_s + 2.0 && *gone_s < trouble.until_s + 1.0)
                || !self.is_written(*gone_s, gone_s + 1.0)
            {
                continue;
            }
            self.must(Of::Computer, "deleted or moved away", (*gone_s, 1.0))?;
            self.must(Of::Computer, "the recording goes on in", (*gone_s, 1.0))?;
        }
        Ok(())
    }

    fn of_box(&self, number: usize) -> Result<(), String> {
        let own = &self.plan.boxes[number];
        let frame_s = 1e3 * own.rows_per_frame as f64 / f64::from(own.rate_mhz);
        let patience_s = f64::max(2.0, 1.0 + 3.5 * frame_s);
        for (at_s, fault) in &own.faults {
            let (within_s, words) = match fault {
                BoxFault::Unplugged(_) => (1.0, EventKind::PortGone.in_words()),
                BoxFault::Silent(for_s) if *for_s > 2.5 => (2.5, EventKind::PortGone.in_words()),
                // Rows that are seldom are missed later.
                BoxFault::NoRows(for_s) | BoxFault::WrongRows(for_s) => {
                    let Some(within_s) = self.answer_s(number, *at_s, patience_s) else { continue };
                    if within_s + 0.6 >= *for_s {
                        continue;
                    }
                    (within_s, NO_ROWS)
                }
                _ => continue,
            };
            // A sleep ends what lasts for a while, as the box's time goes on in it.
            if self.plan.sleeps.iter().any(|(sleep_s, _)| at_s - 1.0 < *sleep_s && *sleep_s < at_s + 12.0) {
                continue;
            }
            // Rows that a bad line took before have been told, and are still missing.
            if words == NO_ROWS && self.misses_rows(number, *at_s) {
                continue;
            }
            self.must(Of::Box(number), words, (*at_s, within_s))
                .map_err(|why| format!("{fault:?}: {why}"))?;
        }
        Ok(())
    }

    /// Whether it was told before that a box brings no rows, and not yet that they are back.
    fn misses_rows(&self, number: usize, at_s: f64) -> bool {
        let mut before = self.seen.notices.iter().rev().filter(|(told_s, _)| *told_s < at_s);
        let says = |line: &str, words: &str| self.says(Of::Box(number), line, words);
        let last = before.find(|(_, line)| says(line, NO_ROWS) || says(line, EventKind::RowsBack.in_words()));
        last.is_some_and(|(_, line)| says(line, NO_ROWS))
    }

    fn receiver(&self) -> Result<(), String> {
        let Some(receiver) = &self.plan.receiver else { return Ok(()) };
        for (at_s, fault) in &receiver.faults {
            let is_near = |other_s: f64| at_s - 14.0 < other_s && other_s < at_s + 14.0;
            // What is over another, or sleeps, is told later or not at all.
            if receiver.faults.iter().filter(|(other_s, _)| is_near(*other_s)).count() > 1
                || self.plan.sleeps.iter().any(|(sleep_s, _)| is_near(*sleep_s))
            {
                continue;
            }
            let (within_s, words) = match fault {
                ReceiverFault::Unplugged(_) => (1.0, EventKind::PortGone.in_words()),
                ReceiverFault::Silent(for_s) if *for_s > 6.5 => (6.5, EventKind::PortGone.in_words()),
                ReceiverFault::NoFix(for_s) => {
                    // An epoch is over with the next.
                    let slept = self.plan.sleeps.iter().filter(|(sleep_s, _)| sleep_s < at_s);
                    let slept_s: f64 = slept.map(|(_, for_s)| for_s).sum();
                    let mut without = self.seen.epochs.iter().filter(|epoch| {
                        (*at_s..at_s + for_s).contains(&(epoch.t_s - slept_s))
                            && epoch.came == Came::Whole
                            && !epoch.has_fix
                    });
                    let Some(over) = without.nth(1) else { continue };
                    (over.t_s - slept_s - at_s + 0.3, EventKind::NoFix.in_words())
                }
                _ => continue,
            };
            self.must(Of::Receiver, words, (*at_s, within_s)).map_err(|why| format!("{fault:?}: {why}"))?;
        }
        Ok(())
    }

    /// How long after `at_s` it is to be told that a box answers and brings no rows: once its patience is over, and it has
    /// been heard to answer for half a second since then, or since its port was opened anew, which is told too.
    fn answer_s(&self, number: usize, at_s: f64, patience_s: f64) -> Option<f64> {
        let is_back = |line: &str| self.says(Of::Box(number), line, EventKind::PortBack.in_words());
        let backs = self.seen.notices.iter().filter(|(_, line)| is_back(line)).map(|(told_s, _)| *told_s);
        let from_s = backs.filter(|told_s| (at_s..at_s + patience_s).contains(told_s)).fold(at_s, f64::max);
        let mut words = self.seen.known[number].words_s.iter().skip_while(|word_s| **word_s <= from_s);
        let first_s = *words.next()?;
        let word_s = words.find(|word_s| **word_s >= (first_s + 0.5).max(from_s + patience_s / 2.0))?;
        Some((from_s + patience_s).max(*word_s + 0.1) - at_s)
    }
}
