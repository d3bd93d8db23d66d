//! What may be typed. Nothing here opens a file; the commands do.

use super::typed::{listening_time, role, separator};
use crate::report::units::Units;
use clap::{Args, Parser, Subcommand, ValueEnum};
use ingest::calibration::Fit;
use ingest::cli::{share_condition, soil_class};
use ingest::plow::{ChannelRole, ShareCondition, SoilClass};
use ingest::quantity::{Force, Speed};
use page::Paper;
use std::path::PathBuf;
use std::time::Duration;

/// Measures what a moldboard plow does during a test pass, says where its wheels carry it, whether the
/// drawbar is too flat or too steep and how sure that is, and which hole to move to.
#[derive(Debug, Parser)]
#[command(name = "hitchwright", version, propagate_version = true, max_term_width = 100)]
pub struct Cli {
    #[command(subcommand)]
    pub(super) command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
#[allow(clippy::large_enum_variant)] // one of these exists, once
pub(super) enum Command {
    /// Record a virtual plow in two settings, compare them, and make the pages (all invented)
    Demo(DemoArgs),
    /// Describe a plow by answering: one measurement at a time, to its plow.toml
    Describe(DescribeArgs),
    /// What is on the serial ports: sensor boxes with a second of live readings
    Ports(PortsArgs),
    /// Known loads or lengths on one channel, step by step, to its calibration in plow.toml
    Calibrate(CalibrateArgs),
    /// Record a test pass from one or more sensor boxes into a run folder
    Record(ingest::cli::RecordArgs),
    /// Verdict, figures and advice of one run, and its page
    Summary(SummaryArgs),
    /// Runs of one setting against runs of another: is the difference more than the field's own variation?
    Compare(CompareArgs),
    /// Loads, balance and what each hole would do, worked out from the description of a plow
    Statics(StaticsArgs),
    /// Is a run whole, and what did the recorder note? Can repair it from the raw bytes after a power cut
    Check(CheckArgs),
    /// One run a pass from a recording that ran on over several, headlands left out
    Passes(PassesArgs),
    /// Make a run folder from any logger's CSV; one run a pass, if it holds several
    Import(ImportArgs),
    /// Print the handbook: the order of a day, reading the page, what to buy, and how every figure is worked out
    Handbook(HandbookArgs),
    /// What the JSON of a report holds, key by key with units: its JSON Schema
    Schema(super::schema::SchemaArgs),
}

/// Paper of the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum PaperArg {
    /// 210 × 297 mm
    A4,
    /// 8.5 × 11 in
    Letter,
}

impl From<PaperArg> for Paper {
    fn from(paper: PaperArg) -> Self {
        match paper {
            PaperArg::A4 => Self::A4,
            PaperArg::Letter => Self::Letter,
        }
    }
}

/// How a report is given.
#[derive(Clone, Debug, Args)]
pub(super) struct ReportArgs {
    /// Units of what is printed; files keep SI. Without it those of HITCHWRIGHT_UNITS, else of the plow's description
    /// (units = "us"), else si
    #[arg(long, value_enum)]
    pub(super) units: Option<Units>,
    /// Print everything as JSON (SI units)
    #[arg(long)]
    pub(super) json: bool,
}

/// How a report on runs is given.
#[derive(Clone, Debug, Args)]
pub(super) struct RunsReportArgs {
    #[command(flatten)]
    pub(super) how: ReportArgs,
    /// Print only the few lines that a phone has room for; with --json, as texts in either units
    #[arg(long)]
    pub(super) brief: bool,
}

/// How a page is given.
#[derive(Clone, Debug, Args)]
pub(super) struct PageArgs {
    /// Write the page here; the ending says how (for `statics` also .svg: the force diagram alone; for `summary --csv`
    /// .csv: the table)
    #[arg(short, long, value_name = "FILE.pdf|.png")]
    pub(super) output: Option<PathBuf>,
    /// Paper of the page
    #[arg(long, value_enum, default_value = "a4")]
    pub(super) paper: PaperArg,
}

#[derive(Debug, Args)]
pub(super) struct DemoArgs {
    /// Folder for the runs and the pages; must not exist yet
    #[arg(long, value_name = "FOLDER", default_value = "hitchwright-demo")]
    pub(super) out: PathBuf,
    /// Passes of each setting
    #[arg(long, default_value_t = 5, value_parser = clap::value_parser!(u8).range(1..=20))]
    pub(super) passes: u8,
    /// Units of what is printed and of the pages; without it those of HITCHWRIGHT_UNITS, else us
    #[arg(long, value_enum)]
    pub(super) units: Option<Units>,
    /// Paper of the pages
    #[arg(long, value_enum, default_value = "a4")]
    pub(super) paper: PaperArg,
}

#[derive(Debug, Args)]
pub(super) struct HandbookArgs {
    /// File to write
    #[arg(short, long, value_name = "FILE.pdf", default_value = "handbook.pdf")]
    pub(super) output: PathBuf,
    /// Paper of its pages
    #[arg(long, value_enum, default_value = "a4")]
    pub(super) paper: PaperArg,
}

#[derive(Debug, Args)]
pub(super) struct DescribeArgs {
    /// Description to write; answers are kept beside it, in PLOW.toml.part, until it is whole
    #[arg(value_name = "PLOW.toml", default_value = "plow.toml")]
    pub(super) plow: PathBuf,
    /// Units of answers without one, and of what is printed
    #[arg(long, value_enum, default_value = "us")]
    pub(super) units: Units,
    /// Ask nothing: write the measuring sheet, the same questions and drawings with boxes for a pencil
    #[arg(long, value_name = "FILE.pdf", conflicts_with_all = ["plow", "units"])]
    pub(super) sheet: Option<PathBuf>,
    /// Kind of plow of the sheet: trailed, landside, heel, semi-mounted, mounted or walking; without it, all
    #[arg(long, value_name = "KIND", requires = "sheet")]
    pub(super) kind: Option<String>,
    /// Paper of the sheet
    #[arg(long, value_enum, default_value = "a4", requires = "sheet")]
    pub(super) paper: PaperArg,
}

#[derive(Debug, Args)]
pub(super) struct SummaryArgs {
    /// The run folder; several with --csv, or a pattern in quotes, such as "runs/*_flat"
    #[arg(value_name = "RUN", required = true, num_args = 1..)]
    pub(super) runs: Vec<PathBuf>,
    /// Print one table (CSV, SI units) with a row for each run, or write it with -o FILE.csv
    #[arg(long, conflicts_with_all = ["json", "brief", "detail"])]
    pub(super) csv: bool,
    /// Class of the soil for the published draft, if the run does not say it or says it wrongly: fine, medium or
    /// coarse
    #[arg(long, value_name = "CLASS", value_parser = soil_class)]
    pub(super) soil_class: Option<SoilClass>,
    /// A second sheet with the reasons, spectra and figures in full
    #[arg(long)]
    pub(super) detail: bool,
    /// With --json: the spectrum of each column of your own too
    #[arg(long, requires = "json", conflicts_with = "brief")]
    pub(super) spectra: bool,
    #[command(flatten)]
    pub(super) page: PageArgs,
    #[command(flatten)]
    pub(super) report: RunsReportArgs,
}

#[derive(Debug, Args)]
pub(super) struct CompareArgs {
    /// Runs of the one setting
    #[arg(value_name = "RUN", required = true, num_args = 1..)]
    pub(super) runs: Vec<PathBuf>,
    /// Runs of the other setting
    #[arg(long, value_name = "RUN", required = true, num_args = 1..)]
    pub(super) against: Vec<PathBuf>,
    #[command(flatten)]
    pub(super) page: PageArgs,
    #[command(flatten)]
    pub(super) report: RunsReportArgs,
}

#[derive(Debug, Args)]
pub(super) struct StaticsArgs {
    /// Description of the plow
    #[arg(value_name = "PLOW.toml")]
    pub(super) plow: PathBuf,
    /// Setting to start from; without it, the first by name
    #[arg(long, value_name = "NAME")]
    pub(super) setting: Option<String>,
    /// Pull along the drawbar, such as "1600 lbf"; without it, the expected draft for --soil and --speed
    #[arg(long, value_name = "FORCE")]
    pub(super) pull: Option<Force>,
    /// What if a pin were elsewhere: "tractor_hitch=+2 holes", "plow_hitch=hole 5", "tractor_hitch=-10 mm"; may be
    /// given several times
    #[arg(long = "try", value_name = "MOVE")]
    pub(super) tries: Vec<String>,
    /// Print what every pair of holes would do, not only those nearest to balance
    #[arg(long)]
    pub(super) all_holes: bool,
    /// Write a map of the balance index over the heights of both pins
    #[arg(long, value_name = "FILE.svg")]
    pub(super) map: Option<PathBuf>,
    /// Soil class of the published draft equation: fine, medium or coarse
    #[arg(long, value_name = "CLASS", value_parser = soil_class, default_value = "medium")]
    pub(super) soil: SoilClass,
    /// Speed for the published draft equation, and for the powers of --top; without it, 6 km/h behind a tractor, 2 mph
    /// behind a team
    #[arg(long, value_name = "SPEED")]
    pub(super) speed: Option<Speed>,
    /// The top view too: which way the pull turns the tractor, and where its pin should be
    #[arg(long)]
    pub(super) top: bool,
    /// A diagram for the wall: landscape, in large letters, before and after the advised move, or beside the
    /// holes of --try; from above too, if the
    /// description has the tractor
    #[arg(long, value_name = "FILE.pdf|.png|.svg")]
    pub(super) wall: Option<PathBuf>,
    /// Runs of this plow, in one or several settings, that are taken together for one estimate of soil and balance
    #[arg(long, value_name = "RUN", num_args = 1.., conflicts_with_all = ["setting", "pull", "tries", "all_holes", "map", "top", "output", "wall"])]
    pub(super) runs: Vec<PathBuf>,
    #[command(flatten)]
    pub(super) page: PageArgs,
    #[command(flatten)]
    pub(super) report: ReportArgs,
}

#[derive(Debug, Args)]
pub(super) struct PortsArgs {
    /// Look at this port too, though the system may not list it; give it again for each further one
    #[arg(long = "port", value_name = "PORT")]
    pub(super) ports: Vec<PathBuf>,
    /// Speed of the ports in baud
    #[arg(long, value_name = "BAUD", default_value_t = ingest::cli::BAUD)]
    pub(super) baud: u32,
    /// Show calibrated readings too, by the sensors of this description of the plow
    #[arg(long, value_name = "PLOW.toml")]
    pub(super) plow: Option<PathBuf>,
    #[command(flatten)]
    pub(super) report: ReportArgs,
}

#[derive(Debug, Args)]
pub(super) struct CalibrateArgs {
    /// Serial port of the sensor box
    #[arg(long, value_name = "PORT", required_unless_present = "pairs", conflicts_with = "pairs")]
    pub(super) port: Option<PathBuf>,
    /// Instead of a box: a CSV with the columns count and value
    #[arg(long, value_name = "FILE.csv")]
    pub(super) pairs: Option<PathBuf>,
    /// Speed of the port in baud
    #[arg(long, value_name = "BAUD", default_value_t = ingest::cli::BAUD)]
    pub(super) baud: u32,
    /// What is calibrated. The points of a column of your own are written by hand: the handbook says how
    #[arg(long, value_name = "WHAT", value_parser = role())]
    pub(super) measures: ChannelRole,
    /// Channel of the box; without it, the only one that measures this
    #[arg(long, value_name = "NAME")]
    pub(super) channel: Option<String>,
    /// Unit of values that are given without one, such as lbf
    #[arg(long, value_name = "UNIT")]
    pub(super) unit: Option<String>,
    /// How long each step is listened to, in s (0.1 to 60)
    #[arg(long, value_name = "S", default_value = "3", value_parser = listening_time)]
    pub(super) seconds: Duration,
    /// Straight line, or a table with straight lines between the values
    #[arg(long, value_enum, default_value = "line")]
    pub(super) fit: Fit,
    /// How well the loads or lengths are known (half of a 95 % interval), such as "0.2 %" or "2 lbf"
    #[arg(long, value_name = "ACCURACY")]
    pub(super) reference: Option<String>,
    /// Day of the calibration, YYYY-MM-DD; without it, today
    #[arg(long, value_name = "DAY")]
    pub(super) date: Option<jiff::civil::Date>,
    /// Description of the plow: says what the new calibration changes
    #[arg(long, value_name = "PLOW.toml")]
    pub(super) plow: Option<PathBuf>,
    /// Put the calibration into the --plow description; the file as it was is kept beside it
    #[arg(long, requires = "plow")]
    pub(super) update: bool,
    /// With --update: put it in even though it looks too bad to be a calibration
    #[arg(long, requires = "update")]
    pub(super) accept: bool,
    /// Write the pairs here while they are taken; --pairs reads them again
    #[arg(short, long, value_name = "FILE.csv", conflicts_with = "pairs")]
    pub(super) output: Option<PathBuf>,
    /// Print everything as JSON (SI units)
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Clone, Debug, Args)]
pub(super) struct CheckArgs {
    /// The run folder
    #[arg(value_name = "RUN")]
    pub(super) run: PathBuf,
    /// Rebuild the tables from the raw bytes into this new run folder, which must not exist yet
    #[arg(long, value_name = "FOLDER")]
    pub(super) rebuild_into: Option<PathBuf>,
    /// With --rebuild-into: take the sensors' calibrations from this description instead of the run's own
    #[arg(long, value_name = "PLOW.toml", requires = "rebuild_into")]
    pub(super) plow: Option<PathBuf>,
    /// First make a run whole whose recorder was killed, whose power was cut or whose files were damaged: its tables
    /// from the raw bytes, its end into run.toml. What is cut from a file stays beside it as FILE.before-repair
    #[arg(long, conflicts_with = "rebuild_into")]
    pub(super) repair: bool,
    /// Print everything as JSON
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct PassesArgs {
    /// The run folder of the recording, which stays as it is
    #[arg(value_name = "RUN")]
    pub(super) run: PathBuf,
    /// Put the run folders of the passes in this folder
    #[arg(long, value_name = "FOLDER")]
    pub(super) out: PathBuf,
}

#[derive(Debug, Args)]
pub(super) struct ImportArgs {
    /// The logger's CSV; several, or folders of them, are imported one after another
    #[arg(value_name = "FILE.csv", required = true, num_args = 1..)]
    pub(super) files: Vec<PathBuf>,
    /// Only print what the file seems to have (columns, units, time, rate, gaps) and a command to start from
    #[arg(long)]
    pub(super) look: bool,
    /// Description of the plow
    #[arg(long, value_name = "PLOW.toml", required_unless_present = "look")]
    pub(super) plow: Option<PathBuf>,
    /// Setting it was driven with
    #[arg(long, value_name = "NAME", required_unless_present = "look")]
    pub(super) setting: Option<String>,
    /// Which column of the file fills which column of the run: `pull_n=Force:kN`, in any unit that
    /// plow.toml knows; without :UNIT the unit is that of the line of units, of the name ("Force (kN)"), or the run
    /// column's. t_s is needed, or --rate. `own_NAME=Name:UNIT`, in any unit, is a column of your own
    #[arg(long = "column", value_name = "RUN_COLUMN=NAME[:UNIT]", required_unless_present = "look")]
    pub(super) columns: Vec<String>,
    /// Rows per second, for a file without a time column
    #[arg(long, value_name = "HZ")]
    pub(super) rate: Option<f64>,
    /// How t_s is written, if it is no number: iso (2027-04-11T09:14:05.25), day-first (11.04.2027 09:14:05.25),
    /// month-first, time-of-day (09:14:05.25), or a pattern such as '%d.%m.%y %H:%M:%S%.f'. Date and time in two
    /// columns: t_s=Date+Time
    #[arg(long, value_name = "FORMAT")]
    pub(super) time_format: Option<String>,
    /// So many lines stand before the line with the names of the columns
    #[arg(long, value_name = "N", default_value_t = 0)]
    pub(super) skip_rows: u64,
    /// The line after the names has the units
    #[arg(long)]
    pub(super) units_row: bool,
    /// Sign between columns; the word tab for a tab
    #[arg(long, default_value = ",", value_parser = separator)]
    pub(super) separator: char,
    /// Numbers are written with a decimal comma (needs another --separator, such as ';')
    #[arg(long)]
    pub(super) decimal_comma: bool,
    /// A number or word that the logger writes for a missing reading, such as --missing-value=-9999: its rows become gaps;
    /// may be given several times. `none`: there is no such, every number is a reading
    #[arg(long = "missing-value", value_name = "VALUE", allow_hyphen_values = true)]
    pub(super) missing_values: Vec<String>,
    /// When the pass was driven, such as 2027-04-11T09:14; without it, the first date in the file, or the file's own
    /// time
    #[arg(long, value_name = "TIME")]
    pub(super) started: Option<String>,
    /// Condition of the shares in this pass, if it is not that of the plow description
    #[arg(long, value_name = "CONDITION", value_parser = share_condition)]
    pub(super) share: Option<ShareCondition>,
    /// Field, as you call it
    #[arg(long, value_name = "TEXT")]
    pub(super) field: Option<String>,
    /// Soil, in your words
    #[arg(long, value_name = "TEXT")]
    pub(super) soil: Option<String>,
    /// Class of the soil for the published draft: fine, medium or coarse
    #[arg(long, value_name = "CLASS", value_parser = soil_class)]
    pub(super) soil_class: Option<SoilClass>,
    /// Notes on this pass
    #[arg(long, value_name = "TEXT")]
    pub(super) note: Option<String>,
    /// Import a file all the same whose very rows a run in the folder has already
    #[arg(long)]
    pub(super) again: bool,
    /// Put the run folder in this folder
    #[arg(long, value_name = "FOLDER", default_value = ".")]
    pub(super) out: PathBuf,
}
