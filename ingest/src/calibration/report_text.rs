//! A calibration's report for the terminal.

use super::unrest::not_steady;
use super::{CalibrationReport, Distribution, Evaluation, Fit, OfScale, Reference, Uncertainty};
use crate::quantity::UnitSystem;
use std::fmt::Write;

/// Units in which the values are shown: those in which the first true value was written.
struct Shown {
    symbol: String,
    /// One of it in the column's unit.
    factor: f64,
    /// Decimals that show a hundred-thousandth of full scale.
    decimals: usize,
}

impl Shown {
    fn of(report: &CalibrationReport) -> Self {
        let written = report.taken.first().map_or("", |step| step.true_value.trim());
        let symbol = written.trim_start_matches(|c: char| c.is_ascii_digit() || " .+-/eE\t".contains(c));
        let one = report.measures.in_column_unit(&format!("1 {symbol}")).ok().filter(|one| *one > 0.0);
        let (symbol, factor) = match one {
            Some(one) => (symbol.to_owned(), one),
            None => (report.unit.to_owned(), 1.0),
        };
        let finest = 1e-5 * report.figures.full_scale / factor;
        let decimals = (-finest.log10().floor()).clamp(0.0, 9.0) as usize;
        Self { symbol, factor, decimals }
    }

    fn value(&self, inside: f64) -> String {
        format!("{} {}", self.number(inside), self.symbol)
    }

    fn number(&self, inside: f64) -> String {
        let text = format!("{:.*}", self.decimals, inside / self.factor);
        // A rounded-away minus is no sign.
        let is_zero = text.trim_start_matches('-').bytes().all(|byte| matches!(byte, b'0' | b'.'));
        if is_zero { text.trim_start_matches('-').to_owned() } else { text }
    }
}

const ONE_VALUE_TWICE: &str = "take a value again in the same direction, after going back to 0";

impl CalibrationReport {
    /// The report as text with its line ends, in the unit in which the true values were written.
    #[must_use]
    pub fn text(&self) -> String {
        let shown = Shown::of(self);
        let mut text = String::new();
        self.head(&shown, &mut text);
        self.figure_lines(&shown, &mut text);
        uncertainty(&self.uncertainty_at_full_scale, &shown, &mut text);
        // Writing to a String cannot fail; the results are dropped for that reason, here and below.
        let at_zero = &self.uncertainty_at_zero;
        let _ = writeln!(text, "uncertainty of a reading of 0: ± {}", shown.value(at_zero.expanded));
        let unrest = not_steady(&self.taken);
        for (number, how) in &unrest {
            let value = self.taken.get(*number).map_or("", |step| &step.true_value);
            let _ = writeln!(text, "WARNING: step {} ({value}) was not steady: {how}", number + 1);
        }
        if !unrest.is_empty() {
            text.push_str(
                "what the load or length was then is not known, and no ± here reflects it: take these steps again\n",
            );
        }
        if self.reference == Reference::NotStated {
            text.push_str(
                "the accuracy of the loads or lengths was not stated: taken as 0.5 % of the value\n",
            );
        }
        if self.figures.values < 3 {
            text.push_str(
                "two true values cannot show whether the sensor is straight between them: the analysis uses its \
                 own, wider allowance; take three or more\n",
            );
        }
        text
    }

    /// The slope in the reader's unit, for comparing calibrations whose values were written in different ones.
    #[must_use]
    pub fn slope_text(&self, units: UnitSystem) -> String {
        let unit = self.measures.unit_in(units);
        let slope = self.slope / unit.per(self.measures.column_unit());
        format!("{:.6} {} per count", Significant(slope), unit.symbol)
    }

    fn head(&self, shown: &Shown, text: &mut String) {
        let figures = &self.figures;
        let how = match self.fit {
            Fit::Line => "straight line",
            Fit::Table => "table",
        };
        let _ = writeln!(
            text,
            "calibration of {}: {how} through {} steps at {} values, {} to {}; series: {} up, {} down",
            self.measures.name(),
            self.taken.len(),
            figures.values,
            shown.number(figures.range.low),
            shown.value(figures.range.high),
            figures.series_up,
            figures.series_down,
        );
        let slope = |inside: f64| format!("{:.6}", Significant(inside / shown.factor));
        let interval = match &self.slope_interval {
            Some(found) => format!("  ({} to {}, 95 %)", slope(found.low), slope(found.high)),
            None => "  (two steps show no interval)".to_owned(),
        };
        let of = if self.fit.is_line() { "" } else { " of the best-fit line" };
        row("slope", &format!("{} {} per count{of}{interval}", slope(self.slope), shown.symbol), text);
        row("zero", &format!("{:.1} counts", self.zero_count), text);
        if let Some(sd) = self.residual_sd {
            row("about the line", &format!("SD {}", shown.value(sd)), text);
        }
        if let Some((sd, step)) = self.noisiest() {
            let at = &step.true_value;
            row("noise of counts", &format!("SD {sd:.1} counts at most (at {at})"), text);
        }
    }

    fn noisiest(&self) -> Option<(f64, &super::Observation)> {
        let noisy = self.taken.iter().filter_map(|step| Some((step.count_sd?, step)));
        noisy.max_by(|a, b| a.0.total_cmp(&b.0))
    }

    fn figure_lines(&self, shown: &Shown, text: &mut String) {
        let figures = &self.figures;
        text.push_str("of full scale (");
        let _ = writeln!(text, "{})", shown.value(figures.full_scale));
        let mut figure = |name: &str, found: Option<&OfScale>, missing: &str| {
            let line = match found {
                Some(found) => {
                    let (size, at) = (shown.value(found.size), shown.value(found.at));
                    format!("{:.3} %  ({size}, at {at})", found.percent)
                }
                None => format!("not shown: {missing}"),
            };
            row(name, &line, text);
        };
        figure("non-linearity", figures.non_linearity.as_ref(), "take three true values or more");
        if self.fit == Fit::Table {
            figure("between values", figures.interpolation.as_ref(), "take three true values or more");
        }
        figure(
            "hysteresis",
            figures.hysteresis.as_ref(),
            "take the values in between on the way down as well",
        );
        figure("repeatability", figures.repeatability.as_ref(), ONE_VALUE_TWICE);
        figure("zero return", figures.zero_return.as_ref(), "take 0 at the end once more");
        figure("worst step", figures.largest_residual.as_ref(), "take a step");
    }
}

fn row(name: &str, value: &str, text: &mut String) {
    let _ = writeln!(text, "  {name:<16}{value}");
}

fn uncertainty(found: &Uncertainty, shown: &Shown, text: &mut String) {
    let freedom = found.freedom.map_or(String::new(), freedom_words);
    let _ = writeln!(
        text,
        "uncertainty of a reading of {}: ± {} (95 %: {:.2} × {}{freedom})",
        shown.value(found.at),
        shown.value(found.expanded),
        found.coverage,
        shown.value(found.standard),
    );
    for one in &found.contributions {
        let evaluation = match one.evaluation {
            Evaluation::A => "A",
            Evaluation::B => "B",
        };
        let law = match (one.distribution, one.freedom) {
            (Distribution::Student, Some(freedom)) => format!("Student, {freedom} degrees of freedom"),
            (Distribution::Student, None) => "Student".to_owned(),
            (Distribution::Normal, _) => "normal".to_owned(),
            (Distribution::Rectangular, _) => "rectangular".to_owned(),
        };
        let size = shown.value(one.standard);
        row(one.source.label(), &format!("{size:>14}  type {evaluation}, {law}"), text);
    }
}

/// Degrees of freedom; beyond a thousand Student's law is the normal one.
fn freedom_words(freedom: f64) -> String {
    if freedom > 1000.0 {
        ", over 1000 degrees of freedom".to_owned()
    } else {
        format!(", {freedom:.0} degrees of freedom")
    }
}

/// A number with as many significant digits as the precision asks for.
struct Significant(f64);

impl std::fmt::Display for Significant {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let digits = f.precision().unwrap_or(6) as i32;
        let before = if self.0 == 0.0 { 0 } else { self.0.abs().log10().floor() as i32 + 1 };
        let decimals = (digits - before).clamp(0, 17) as usize;
        write!(f, "{:.decimals$}", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Observation, report};
    use super::*;
    use crate::channel_role::ChannelRole;

    #[test]
    fn degrees_of_freedom_without_meaning_are_not_printed_to_the_last_digit() {
        assert_eq!(freedom_words(181_706.4), ", over 1000 degrees of freedom");
        assert_eq!(freedom_words(15.2), ", 15 degrees of freedom");
    }

    #[test]
    fn nothing_is_shown_as_zero() {
        let shown = [0.0, -0.0, 0.012_345, 123.456].map(|number| format!("{:.3}", Significant(number)));
        assert_eq!(shown, ["0.000", "-0.000", "0.0123", "123"]);
    }

    #[test]
    fn slopes_are_compared_in_one_unit_and_without_powers_of_ten() {
        let steps =
            [(0.0, "0 lbf"), (50_000.0, "1000 lbf")].map(|(count, value)| Observation::pair(count, value));
        let slope = report(ChannelRole::Pull, &steps, Fit::Line, None).unwrap();
        assert_eq!(slope.slope_text(UnitSystem::Si), "0.0889644 N per count");
        assert_eq!(slope.slope_text(UnitSystem::Us), "0.0200000 lbf per count");
    }

    /// What was warned of while it was taken stands beside the ± that does not know of it.
    #[test]
    fn a_step_that_was_not_steady_is_named_in_the_report() {
        let step = |count, sd, drift, value| Observation {
            count_sd: Some(sd),
            count_drift: Some(drift),
            rows: Some(600),
            ..Observation::pair(count, value)
        };
        let mut steps = vec![step(12_840.0, 40.0, 1.0, "0 lbf"), step(1_012_840.0, 40.0, 9_000.0, "500 lbf")];
        steps.push(step(2_012_940.0, 90_000.0, 1.0, "1000 lbf"));
        let moved = report(ChannelRole::Pull, &steps, Fit::Line, None).unwrap();
        let text = moved.text();
        assert_eq!(moved.not_steady, [2, 3]);
        assert!(text.contains("step 2 (500 lbf) was not steady: the count drifted by 9000"), "{text}");
        assert!(text.contains("step 3 (1000 lbf) was not steady: the SD is 4 % of the span"), "{text}");
        assert!(text.contains("no ± here reflects it"), "{text}");
        steps.iter_mut().for_each(|step| (step.count_sd, step.count_drift) = (Some(40.0), Some(1.0)));
        let still = report(ChannelRole::Pull, &steps, Fit::Line, None).unwrap();
        assert_eq!((&still.not_steady[..], still.text().contains("steady")), (&[][..], false));
    }

    #[test]
    fn a_report_is_in_the_unit_that_was_typed_and_says_what_is_not_shown() {
        let taken = [(12_840.0, "0 lbf"), (1_012_840.0, "500 lbf"), (2_012_940.0, "1000 lbf")];
        let steps = taken.map(|(count, value)| Observation::pair(count, value));
        let text = report(ChannelRole::Pull, &steps, Fit::Line, None).unwrap().text();
        println!("{text}");
        assert!(text.contains("0.00 to 1000.00 lbf; series: 1 up, 0 down"), "{text}");
        assert!(text.contains("hysteresis      not shown: take the values"), "{text}");
        assert!(text.contains("taken as 0.5 %"), "{text}");
        let two = report(ChannelRole::Pull, &steps[..2], Fit::Line, Some("1 lbf")).unwrap().text();
        assert!(two.contains("non-linearity   not shown: take three"), "{two}");
        assert!(two.contains("two true values cannot show"), "{two}");
    }
}
