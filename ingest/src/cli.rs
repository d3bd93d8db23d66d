//! The options of a recording on the command line: the same for `hitchwright-recorder` and
//! `hitchwright record`.

use crate::calibration::ZERO_HINT;
use crate::gnss::GnssCounters;
use crate::plow::{ShareCondition, SoilClass, read_plow};
use crate::quantity::{Quantity, QuantityError, TimeSpan, UnitSystem, units_of_reader};
use crate::recorder::{
    Begin, Destination, GnssPort, RecordConfig, RecordError, Recorded, RecordedRun, StderrView, View, record,
    without_readings,
};
use crate::safety::CAUTIONS;
use std::path::PathBuf;
use std::time::Duration;

/// Speed of a port in baud that a box has unless it was built otherwise.
pub const BAUD: u32 = 115_200;

/// Record a test pass: readings of one or more sensor boxes into a new run folder.
#[derive(Clone, Debug, clap::Args)]
pub struct RecordArgs {
    /// Serial port of a sensor box; give it again for each further box. The first one's rows are plow.csv.
    #[arg(long = "port", value_name = "PORT", required = true)]
    pub ports: Vec<PathBuf>,
    /// Speed of the ports in baud; 115200 is what a box has unless it was built otherwise.
    #[arg(long, value_name = "BAUD", default_value_t = BAUD)]
    pub baud: u32,
    /// Serial port of a GNSS receiver (NMEA 0183: RMC, or GGA and VTG); its fixes go into gnss.csv.
    #[arg(long, value_name = "PORT")]
    pub gnss: Option<PathBuf>,
    /// Speed of that port in baud; 9600 is what most receivers have.
    #[arg(long, value_name = "BAUD", default_value_t = 9600, requires = "gnss")]
    pub gnss_baud: u32,
    /// Description of the plow.
    #[arg(long, value_name = "FILE", default_value = "plow.toml")]
    pub plow: PathBuf,
    /// Name of the hitch setting, as in the plow description; needed unless the recorder stands by.
    #[arg(long, value_name = "NAME")]
    pub setting: Option<String>,
    /// Condition of the shares today, if it is not that of the plow description.
    #[arg(long, value_name = "CONDITION", value_parser = share_condition)]
    pub share: Option<ShareCondition>,
    /// Field, as you call it.
    #[arg(long, value_name = "TEXT")]
    pub field: Option<String>,
    /// Soil, in your words.
    #[arg(long, value_name = "TEXT")]
    pub soil: Option<String>,
    /// Class of the soil for the published draft: fine, medium or coarse.
    #[arg(long, value_name = "CLASS", value_parser = soil_class)]
    pub soil_class: Option<SoilClass>,
    /// Notes on this pass.
    #[arg(long, value_name = "TEXT")]
    pub note: Option<String>,
    /// Folder in which the run folder is made, named from the time and the setting.
    #[arg(long, value_name = "DIR", default_value = ".", conflicts_with = "into")]
    pub out: PathBuf,
    /// The run folder itself; it must not exist yet.
    #[arg(long, value_name = "FOLDER")]
    pub into: Option<PathBuf>,
    /// End after this long, such as "90 s" or "5 min"; without it, Ctrl-C ends the run.
    #[arg(long, value_name = "TIME", value_parser = duration)]
    pub duration: Option<Duration>,
    /// End when the ports have been away for this long, such as "30 s"; without it, they are waited for.
    #[arg(long, value_name = "TIME", value_parser = duration)]
    pub stop_when_gone: Option<Duration>,
    /// Units of the figures that are shown meanwhile; files keep SI. Without it those of HITCHWRIGHT_UNITS, else of the
    /// plow's description (units = "us"), else si
    #[arg(long, value_enum)]
    pub units: Option<UnitSystem>,
}

/// The condition of the shares, as it is typed.
///
/// # Errors
/// A sentence that lists the conditions.
pub fn share_condition(text: &str) -> Result<ShareCondition, String> {
    text.parse().map_err(|_| "shares are sharp, blunt or worn".to_owned())
}

/// The class of the soil, as it is typed.
///
/// # Errors
/// A sentence that lists the classes.
pub fn soil_class(text: &str) -> Result<SoilClass, String> {
    text.parse().map_err(|_| "soils are fine, medium or coarse".to_owned())
}

/// A time above 0 with its unit: `"90 s"`, `"5 min"`, `"1 h"`.
///
/// # Errors
/// A sentence that says what would be right.
pub fn duration(text: &str) -> Result<Duration, String> {
    let span: TimeSpan = text.parse().map_err(|error: QuantityError| error.to_string())?;
    if span.si() <= 0.0 {
        return Err(format!("'{text}' is no time above 0"));
    }
    Duration::try_from_secs_f64(span.si()).map_err(|_| format!("'{text}' is too long"))
}

impl RecordArgs {
    /// What is to be recorded, with the plow read.
    ///
    /// # Errors
    /// If the plow description cannot be read.
    pub fn config(self, begin: Begin, software: &str) -> Result<RecordConfig, RecordError> {
        Ok(RecordConfig {
            plow: read_plow(&self.plow)?,
            ports: self.ports,
            baud: self.baud,
            gnss: self.gnss.map(|port| GnssPort { port, baud: self.gnss_baud }),
            begin,
            setting_name: self.setting,
            setting_assumed: false,
            share: self.share,
            field: self.field,
            soil: self.soil,
            soil_class: self.soil_class,
            note: self.note,
            destination: self.into.map_or(Destination::In(self.out), Destination::Folder),
            duration: self.duration,
            stop_when_gone: self.stop_when_gone,
            passes_before: 0,
            software: software.to_owned(),
        })
    }

    /// Shows the cautions and what is to be told of the plow on stderr, then records one run.
    ///
    /// # Errors
    /// [`RecordError`] is one sentence for stderr; of a description all that is wrong in it.
    pub fn run(self, software: &str) -> Result<Recorded, RecordError> {
        let asked = self.units;
        let config = self.config(Begin::AtOnce, software)?;
        let units = units_at_work(asked, &config)?;
        let mut view = StderrView::in_units(units);
        show_cautions(&mut view);
        show_described(&config, units, &mut view);
        record(&config, &mut view)
    }
}

/// The units in which a recording is shown, si if nobody says.
///
/// # Errors
/// [`RecordError::Units`] if the variable of the environment is none.
pub fn units_at_work(asked: Option<UnitSystem>, config: &RecordConfig) -> Result<UnitSystem, RecordError> {
    let units = units_of_reader(asked, config.plow.units).map_err(RecordError::Units)?;
    Ok(units.unwrap_or_default())
}

/// Shows how the plow stands by its description, and what is unusual in that.
pub fn show_described(config: &RecordConfig, units: UnitSystem, view: &mut dyn View) {
    for line in config.plow.as_described(units) {
        view.notice(&line);
    }
}

/// Shows what everybody near a plow that is recorded has to know.
pub fn show_cautions(view: &mut dyn View) {
    for caution in CAUTIONS {
        view.notice(caution);
    }
    view.notice(&format!("For a zero check of the pull, {ZERO_HINT}."));
}

/// The line that says what was recorded by the end of a recorder.
#[must_use]
pub fn recorded_line(recorded: &Recorded) -> String {
    match (&recorded.last, recorded.runs) {
        (None, _) => "no run was recorded".to_owned(),
        (Some(run), 0 | 1) => run_line(run),
        (Some(run), runs) => format!("{runs} runs; the last is {}", run_line(run)),
    }
}

/// The line that says how a run went.
#[must_use]
pub fn run_line(run: &RecordedRun) -> String {
    let rows: u64 = run.counters.iter().map(|counters| counters.rows).sum();
    let lost: u64 = run.counters.iter().map(|counters| counters.rows_lost).sum();
    let gaps: u64 = run.counters.iter().map(|counters| counters.gaps).sum();
    let without_ms: u64 = run.counters.iter().map(|counters| counters.without_readings_ms).sum();
    let without = if without_ms > 0 { format!("; {}", without_readings(without_ms)) } else { String::new() };
    let fixes = run.gnss.map_or_else(String::new, |gnss| fixes_words(&gnss));
    format!(
        "{}: {rows} rows in {:.1} s, {lost} rows lost in {gaps} gaps{without}{fixes}; {}",
        run.folder.display(),
        run.lasted_s,
        run.end
    )
}

fn fixes_words(gnss: &GnssCounters) -> String {
    if gnss.bytes == 0 {
        return "; nothing came from the GNSS receiver".to_owned();
    }
    let mut words = format!("; {} GNSS fixes", gnss.fixes);
    if gnss.no_fix_periods > 0 {
        let times = if gnss.no_fix_periods == 1 { "once" } else { "several times" };
        words.push_str(&format!(", no fix {times}"));
    }
    if gnss.bad_checksums > 0 {
        words.push_str(&format!(", {} bad checksums", gnss.bad_checksums));
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_carry_their_unit() {
        assert_eq!(duration("90 s"), Ok(Duration::from_secs(90)));
        assert_eq!(duration("1.5min"), Ok(Duration::from_secs(90)));
        assert_eq!(duration("0.3 s"), Ok(Duration::from_millis(300)));
        for wrong in ["90", "", "s", "-1 s", "0 s", "1 day", "1e999 h", "99999999999999999999999999 h"] {
            assert!(duration(wrong).is_err(), "{wrong}");
        }
    }

    #[test]
    fn what_is_typed_is_read_or_answered_with_what_is_possible() {
        assert_eq!(share_condition("blunt"), Ok(ShareCondition::Blunt));
        assert_eq!(share_condition("new"), Err("shares are sharp, blunt or worn".to_owned()));
        assert_eq!(soil_class("fine"), Ok(SoilClass::Fine));
        assert_eq!(soil_class("sand"), Err("soils are fine, medium or coarse".to_owned()));
    }

    #[test]
    fn the_last_line_adds_up_the_boxes_and_says_what_the_receiver_gave() {
        use crate::assemble::RunCounters;
        use crate::recorder::RunEnd;
        let counters =
            |rows, rows_lost, gaps| RunCounters { rows, rows_lost, gaps, ..RunCounters::default() };
        let mut run = RecordedRun {
            folder: "runs/r".into(),
            lasted_s: 12.34,
            end: RunEnd::PortsGone,
            counters: vec![counters(100, 3, 1), counters(20, 0, 0)],
            gnss: None,
        };
        let end = run.end.to_string();
        assert_eq!(run_line(&run), format!("runs/r: 120 rows in 12.3 s, 3 rows lost in 1 gaps; {end}"));
        run.counters[1].without_readings_ms = 40_250;
        assert!(run_line(&run).contains("3 rows lost in 1 gaps; 40.2 s without readings; "));
        run.counters[1].without_readings_ms = 0;
        for (no_fix_periods, bad_checksums, words) in
            [(0, 0, ""), (1, 0, ", no fix once"), (2, 7, ", no fix several times, 7 bad checksums")]
        {
            run.gnss = Some(GnssCounters {
                fixes: 9,
                bytes: 900,
                no_fix_periods,
                bad_checksums,
                ..GnssCounters::default()
            });
            let line = run_line(&run);
            assert!(line.ends_with(&format!("1 gaps; 9 GNSS fixes{words}; {end}")), "{line}");
        }
        run.gnss = Some(GnssCounters::default());
        let line = run_line(&run);
        assert!(line.ends_with(&format!("1 gaps; nothing came from the GNSS receiver; {end}")), "{line}");
    }
}
