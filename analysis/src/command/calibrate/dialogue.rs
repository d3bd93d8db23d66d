//! The dialogue of a calibration: a value, its count, the next value.

use super::bench::{Bench, Reading};
use super::pairs::{PairsFile, ValueReader};
use crate::command::output::CommandError;
use ingest::calibration::{CalibrationError, CalibrationReport, Fit, Observation, report};
use ingest::plow::{ChannelRole, RoleDimension};
use std::io::{Result as IoResult, Write};

/// What is known before it begins.
pub(super) struct Dialogue<'a> {
    pub(super) values: ValueReader,
    pub(super) fit: Fit,
    pub(super) reference: Option<&'a str>,
    /// Where the steps are kept while they are taken.
    pub(super) file: Option<PairsFile>,
}

const COMMANDS: &str = "undo (forget the last step), again (take the last step anew), list, done, quit";

impl Dialogue<'_> {
    /// Talks until the calibration is done; the end of the lines counts as "done". The steps that give it, or `None`
    /// where it was given up.
    ///
    /// # Errors
    /// If the lines cannot be read, end before there is a calibration, or the steps cannot be kept.
    pub(super) fn run(
        &mut self,
        lines: &mut dyn Iterator<Item = IoResult<String>>,
        talk: &mut dyn Write,
        bench: &mut dyn Bench,
    ) -> Result<Option<Vec<Observation>>, CommandError> {
        let mut taken: Vec<Observation> = Vec::new();
        say(talk, &self.opening(bench));
        loop {
            let _ = write!(talk, "known value {}> ", taken.len() + 1).and_then(|()| talk.flush());
            let Some(line) = lines.next() else {
                say(talk, "");
                self.judge(&taken)?;
                return Ok(Some(taken));
            };
            let line = line?;
            match line.trim().to_lowercase().as_str() {
                "done" => match self.judge(&taken) {
                    Ok(_) => return Ok(Some(taken)),
                    Err(why) => say(talk, &format!("not done yet: {why}")),
                },
                "quit" => return Ok(None),
                "list" => say(talk, &listed(&taken)),
                "undo" => match taken.pop() {
                    Some(last) => say(talk, &format!("forgotten: {}", last.true_value)),
                    None => say(talk, "there is no step to forget"),
                },
                "again" => match taken.pop() {
                    Some(last) => {
                        if !self.step(&mut taken, &last.true_value, talk, bench) {
                            taken.push(last);
                        }
                    }
                    None => say(talk, "there is no step to take anew"),
                },
                "" | "help" | "?" => say(talk, &self.help()),
                _ => match self.values.read(&line) {
                    Ok(value) => {
                        self.step(&mut taken, &value, talk, bench);
                    }
                    Err(why) => say(talk, &format!("{why}. Or: {COMMANDS}")),
                },
            }
            if let Some(file) = &mut self.file {
                file.keep(&taken)?;
            }
        }
    }

    /// Whether the steps give a calibration.
    fn judge(&self, taken: &[Observation]) -> Result<CalibrationReport, CalibrationError> {
        report(self.values.role, taken, self.fit, self.reference)
    }

    /// Takes a step; whether that went well.
    fn step(
        &self,
        taken: &mut Vec<Observation>,
        value: &str,
        talk: &mut dyn Write,
        bench: &mut dyn Bench,
    ) -> bool {
        say(talk, &format!("  {value}: listening for {:.1} s ...", bench.lasts().as_secs_f64()));
        let reading = match bench.listen() {
            Ok(reading) => reading,
            Err(why) => {
                say(
                    talk,
                    &format!("  {why}; the steps before are kept: type the value again when it is back"),
                );
                return false;
            }
        };
        let Reading { spread, .. } = reading;
        say(talk, &format!("  count {:.1} ± {:.1} (SD of {} rows)", spread.mean, spread.sd, spread.n));
        let true_value = |text: &str| self.values.role.in_column_unit(text).ok();
        let counts: Vec<f64> = taken.iter().map(|step| step.count_mean).collect();
        let same: Vec<bool> =
            taken.iter().map(|step| true_value(&step.true_value) == true_value(value)).collect();
        for doubt in reading.doubts(&counts, &same) {
            say(talk, &format!("  WARNING: {doubt}"));
        }
        taken.push(Observation {
            count_mean: spread.mean,
            count_sd: Some(spread.sd),
            count_drift: Some(spread.drift),
            rows: Some(spread.n),
            true_value: value.to_owned(),
        });
        true
    }

    fn opening(&self, bench: &dyn Bench) -> String {
        let how = match (self.values.role, self.values.role.dimension()) {
            (_, RoleDimension::Force) => {
                "Put known loads on, one after the other: from none up in about five steps, down again the same \
                 way, and ending with none."
            }
            (ChannelRole::Tail, _) => {
                "Press the linkage by known lengths, one after the other: from the free wheel in about five \
                 steps, and back again the same way."
            }
            (ChannelRole::Depth, _) => {
                "Set the gauge to known depths with blocks of known thickness, in about five steps, and back \
                 again the same way."
            }
            _ => "Set known values, one after the other, in about five steps, and back again the same way.",
        };
        format!(
            "{how}\nWhen it is at rest, type the value, such as {}; it is listened to for {:.1} s each time.\n\
             Besides values: {COMMANDS}.",
            self.values.examples(),
            bench.lasts().as_secs_f64()
        )
    }

    fn help(&self) -> String {
        format!("type a known value, such as {}; or: {COMMANDS}", self.values.examples())
    }
}

fn listed(taken: &[Observation]) -> String {
    if taken.is_empty() {
        return "no step yet".to_owned();
    }
    let lines: Vec<_> = (1..)
        .zip(taken)
        .map(|(number, step)| format!("  {number}: {} = {:.1}", step.true_value, step.count_mean))
        .collect();
    lines.join("\n")
}

fn say(talk: &mut dyn Write, text: &str) {
    let _ = writeln!(talk, "{text}");
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::discovery::SampleStatistics;
    use std::time::Duration;

    /// Gives these counts, one after the other; `None` is a port that has gone.
    struct Counts(Vec<Option<f64>>);

    impl Bench for Counts {
        fn listen(&mut self) -> Result<Reading, String> {
            let count = self.0.remove(0).ok_or("gone")?;
            let spread =
                SampleStatistics { n: 100, mean: count, sd: 1.0, min: count, max: count, drift: 0.0 };
            Ok(Reading { spread, at_end: false, rows_lost: 0, restarts: 0 })
        }
        fn lasts(&self) -> Duration {
            Duration::from_secs(3)
        }
    }

    type Ending = Result<Option<Vec<Observation>>, CommandError>;

    fn talk(lines: &[&str], counts: &[Option<f64>]) -> (Ending, String) {
        let values = ValueReader::new(ChannelRole::Pull, None).unwrap();
        let mut dialogue = Dialogue { values, fit: Fit::Line, reference: None, file: None };
        let mut lines = lines.iter().map(|line| Ok((*line).to_owned()));
        let mut said = Vec::new();
        let ending = dialogue.run(&mut lines, &mut said, &mut Counts(counts.to_vec()));
        (ending, String::from_utf8(said).unwrap())
    }

    fn pairs(ending: Ending) -> Vec<(f64, String)> {
        let Ok(Some(taken)) = ending else { panic!("{ending:?}") };
        taken.into_iter().map(|step| (step.count_mean, step.true_value)).collect()
    }

    fn wanted(pairs: &[(f64, &str)]) -> Vec<(f64, String)> {
        pairs.iter().map(|(count, value)| (*count, (*value).to_owned())).collect()
    }

    #[test]
    fn typos_are_answered_and_steps_can_be_forgotten_and_taken_anew() {
        let lines =
            ["done", "0", "0 N", "500 mm", "dnoe", "500 lbf", "undo", "1 kN", "again", "", "list", " DONE "];
        let counts = [10.0, 999.0, 111.0, 110.0].map(Some);
        let (ending, said) = talk(&lines, &counts);
        assert_eq!(pairs(ending), wanted(&[(10.0, "0 N"), (110.0, "1 kN")]), "{said}");
        for part in [
            "not done yet: a calibration needs at least two",
            "'0' has no unit",
            "is no unit of a force",
            "'dnoe' does not start with a number",
            "forgotten: 500 lbf",
            "2: 1 kN = 110.0",
        ] {
            assert!(said.contains(part), "{part:?} is not in {said}");
        }
    }

    #[test]
    fn a_port_that_goes_costs_its_own_step_only() {
        let lines = ["0 N", "1 kN", "again", "2 kN", "2 kN"];
        let (ending, said) = talk(&lines, &[Some(10.0), Some(110.0), None, None, Some(210.0)]);
        assert_eq!(pairs(ending), wanted(&[(10.0, "0 N"), (110.0, "1 kN"), (210.0, "2 kN")]), "{said}");
        assert_eq!(said.matches("the steps before are kept").count(), 2);
    }

    #[test]
    fn an_end_before_there_is_a_calibration_is_an_error_and_giving_up_is_none() {
        let (ending, _) = talk(&["0 N"], &[Some(10.0)]);
        assert!(matches!(ending, Err(CommandError::Failed(_))), "{ending:?}");
        let (ending, _) = talk(&["0 N", "quit"], &[Some(10.0)]);
        assert!(matches!(ending, Ok(None)));
    }
}
