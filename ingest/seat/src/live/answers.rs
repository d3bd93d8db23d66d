//! What came of what somebody asked for: done, or why not.

use super::snapshot::RunNow;
use ingest::recorder::Order;

/// What the recorder has answered so far.
#[derive(Debug, Default)]
pub(super) struct Answers {
    runs: u64,
    choices: u64,
    /// How many there were of each order that was not done, and why the last one was not.
    not_done: [(u64, String); 4],
}

/// Where things stood when something was asked for.
#[derive(Clone, Debug)]
pub struct AskedAt {
    runs: u64,
    choices: u64,
    marks: u64,
    not_done: [u64; 4],
}

fn place(order: Order) -> usize {
    match order {
        Order::Start => 0,
        Order::Stop => 1,
        Order::Mark => 2,
        Order::Choose => 3,
    }
}

impl Answers {
    pub fn run_began(&mut self) {
        self.runs += 1;
    }

    pub fn chosen(&mut self) {
        self.choices += 1;
    }

    pub fn not_done(&mut self, order: Order, why: &str) {
        if let Some((count, last)) = self.not_done.get_mut(place(order)) {
            *count += 1;
            why.clone_into(last);
        }
    }

    /// Where things stand.
    pub fn now(&self, run: Option<&RunNow>) -> AskedAt {
        AskedAt {
            runs: self.runs,
            choices: self.choices,
            marks: run.map_or(0, |run| run.marks),
            not_done: std::array::from_fn(|at| self.not_done.get(at).map_or(0, |(count, _)| *count)),
        }
    }

    /// What came of an order since then; `None`: nothing yet.
    pub fn to(&self, order: Order, since: &AskedAt, run: Option<&RunNow>) -> Option<Result<(), String>> {
        let is_another_run = self.runs > since.runs;
        let is_done = match order {
            Order::Start => is_another_run,
            // A run that ended badly has ended; what is to be said of it goes first.
            Order::Stop => false,
            Order::Mark => !is_another_run && run.is_some_and(|run| run.marks > since.marks),
            Order::Choose => self.choices > since.choices,
        };
        if is_done {
            return Some(Ok(()));
        }
        let (count, why) = self.not_done.get(place(order))?;
        if since.not_done.get(place(order)).is_some_and(|before| count > before) {
            return Some(Err(why.clone()));
        }
        let has_ended = run.is_none() || is_another_run;
        match order {
            Order::Stop if has_ended => Some(Ok(())),
            Order::Mark if has_ended => Some(Err("the run ended before it was marked".to_owned())),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::plow::ShareCondition;

    fn run(marks: u64) -> RunNow {
        RunNow { marks, ..RunNow::begun("run", "low", ShareCondition::Sharp) }
    }

    #[test]
    fn each_order_has_its_own_answer() {
        let mut answers = Answers::default();
        let before = answers.now(None);
        assert_eq!(answers.to(Order::Start, &before, None), None);
        answers.not_done(Order::Mark, "no run");
        assert_eq!(answers.to(Order::Start, &before, None), None, "that was of a mark");
        answers.not_done(Order::Start, "the disk is full");
        assert_eq!(answers.to(Order::Start, &before, None), Some(Err("the disk is full".to_owned())));
        assert_eq!(answers.to(Order::Start, &answers.now(None), None), None, "that was of a start before");
        answers.run_began();
        assert_eq!(answers.to(Order::Start, &before, Some(&run(0))), Some(Ok(())));
    }

    #[test]
    fn a_stop_is_done_when_the_run_has_ended_and_a_mark_when_it_counts() {
        let mut answers = Answers::default();
        answers.run_began();
        let before = answers.now(Some(&run(1)));
        assert_eq!(answers.to(Order::Stop, &before, Some(&run(1))), None);
        assert_eq!(answers.to(Order::Mark, &before, Some(&run(1))), None);
        assert_eq!(answers.to(Order::Mark, &before, Some(&run(2))), Some(Ok(())));
        assert_eq!(answers.to(Order::Stop, &before, None), Some(Ok(())));
        assert!(matches!(answers.to(Order::Mark, &before, None), Some(Err(_))));
        answers.not_done(Order::Stop, "not everything could be written");
        assert!(matches!(answers.to(Order::Stop, &before, None), Some(Err(_))), "it ended badly");
    }
}
