//! How a command ends: a report with remarks, or a sentence that says why not; and where reports and pages go.

use super::args::{PageArgs, PaperArg, ReportArgs};
use crate::report::units::Units;
use ingest::plow::{Plow, Setting};
use page::{Content, Format, Paper, Sheets, render};
use signals::run::{CSV_BYTES_MAX, MEMORY_PER_BYTE, Run, RunError, load_run};
use std::error::Error;
use std::fmt::{Display, Formatter};
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

/// From this size on a run is told to be large.
const TOLD_FROM_BYTES: u64 = 100_000_000;

/// Why a command did not do its work. Each is one sentence.
#[derive(Debug)]
pub(super) enum CommandError {
    /// It was typed wrongly: exit status 2.
    Usage(String),
    /// The work failed: exit status 1.
    Failed(Box<dyn Error + Send + Sync>),
}

impl CommandError {
    /// The work failed for this reason.
    pub(super) fn failed(why: impl Into<String>) -> Self {
        Self::Failed(why.into().into())
    }

    /// The work failed at this file or folder.
    pub(super) fn at(path: &Path, why: impl Display) -> Self {
        Self::failed(format!("{}: {why}", path.display()))
    }
}

impl Display for CommandError {
    fn fmt(&self, f: &mut Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Usage(why) => write!(f, "{why} (see --help)"),
            Self::Failed(error) => write!(f, "{error}"),
        }
    }
}

impl<E: Error + Send + Sync + 'static> From<E> for CommandError {
    fn from(error: E) -> Self {
        Self::Failed(error.into())
    }
}

/// What a command has to say when its work is done.
#[derive(Debug, Default)]
pub(super) struct Done {
    /// The report, for stdout.
    pub report: String,
    /// Remarks beside it, for stderr, a line each.
    pub remarks: Vec<String>,
    /// The work is done, but what it was asked is answered with no: exit status 1.
    pub unsound: bool,
}

impl Done {
    pub fn report(report: String) -> Self {
        Self { report, ..Self::default() }
    }

    pub fn say(remarks: Vec<String>) -> Self {
        Self { remarks, ..Self::default() }
    }
}

/// A setting of the plow that is described in this file.
pub(super) fn setting_of<'a>(
    plow: &'a Plow,
    path: &Path,
    name: &str,
) -> Result<(&'a String, &'a Setting), CommandError> {
    plow.settings.get_key_value(name).ok_or_else(|| {
        let known: Vec<_> = plow.settings.keys().map(String::as_str).collect();
        CommandError::at(path, format!("there is no setting '{name}' (settings: {})", known.join(", ")))
    })
}

/// Prints a report. A reader that has seen enough (`| head`) is a normal end.
///
/// # Errors
/// [`CommandError::Failed`] where it cannot be written, to a full disk say.
pub(super) fn print(report: &str) -> Result<(), CommandError> {
    let mut out = std::io::stdout().lock();
    match out.write_all(visible(report).as_bytes()).and_then(|()| out.flush()) {
        Err(cause) if cause.kind() != ErrorKind::BrokenPipe => {
            Err(CommandError::failed(format!("the report could not be written: {cause}")))
        }
        _ => Ok(()),
    }
}

/// Says a line on stderr; where even that is gone, there is nobody left to tell.
pub(super) fn say(line: &str) {
    let _ = writeln!(std::io::stderr().lock(), "{}", visible(line));
}

/// A text with its control characters and marks of writing direction written out, as JSON writes them: names
/// come from files, and a terminal obeys such characters. Line ends and tabs stay.
fn visible(text: &str) -> String {
    let mut shown = String::with_capacity(text.len());
    for c in text.chars() {
        let obeyed = (c.is_control() && !matches!(c, '\n' | '\t'))
            || matches!(c, '\u{061C}' | '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{2069}' | '\u{FEFF}');
        if obeyed {
            shown.push_str(&format!("\\u{:04x}", u32::from(c)));
        } else {
            shown.push(c);
        }
    }
    shown
}

/// A JSON report with its line end.
pub(super) fn json(value: &impl serde::Serialize) -> Result<String, CommandError> {
    Ok(serde_json::to_string_pretty(value)? + "\n")
}

/// Reads a run; of a large one it is said before how large it is.
pub(super) fn load(folder: &Path) -> Result<Run, RunError> {
    let tables = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let is_table = |path: &PathBuf| path.extension().is_some_and(|ending| ending == "csv");
    let lengths = tables.map(|entry| entry.path()).filter(is_table).filter_map(|path| path.metadata().ok());
    let bytes: u64 = lengths.map(|about| about.len()).sum();
    // What is more is refused.
    if (TOLD_FROM_BYTES..=CSV_BYTES_MAX).contains(&bytes) {
        let (mb, gb) = (bytes as f64 / 1e6, (bytes * MEMORY_PER_BYTE) as f64 / 1e9);
        say(&format!(
            "{}: {mb:.0} MB of readings; this takes a while, and up to {gb:.1} GB of memory",
            folder.display()
        ));
    }
    load_run(folder)
}

/// A bar for work of over a second, on a terminal only; elsewhere it is silent.
pub(super) fn progress(steps: usize, what: &'static str) -> indicatif::ProgressBar {
    let bar = indicatif::ProgressBar::new(steps as u64);
    if let Ok(style) = indicatif::ProgressStyle::with_template("{msg} {wide_bar} {pos}/{len}") {
        bar.set_style(style);
    }
    bar.set_message(what);
    bar
}

/// Where a page goes and what it is, known before any work is done.
#[derive(Clone, Debug)]
pub(super) struct PageTarget {
    path: PathBuf,
    pub(super) format: Format,
    paper: Paper,
}

impl PageTarget {
    /// The page that was asked for, if one was.
    pub(super) fn of(args: &PageArgs) -> Result<Option<Self>, CommandError> {
        args.output.as_ref().map(|path| Self::new("-o", path, args.paper)).transpose()
    }

    /// A page at the path that was given with `option`: a path that cannot be is an error before the work, not
    /// after it. An older page of the same name is replaced, but only once the new one is whole.
    pub(super) fn new(option: &str, path: &Path, paper: PaperArg) -> Result<Self, CommandError> {
        let ending = path.extension().map(|ending| ending.to_ascii_lowercase());
        let format = match ending.as_ref().and_then(|ending| ending.to_str()) {
            Some("pdf") => Format::Pdf,
            Some("png") => Format::Png,
            _ => {
                let path = path.display();
                return Err(CommandError::Usage(format!(
                    "{option} {path}: the name must end in .pdf or .png"
                )));
            }
        };
        folder_exists(path)?;
        Ok(Self { path: path.to_owned(), format, paper: paper.into() })
    }

    /// Renders and writes the page, whole or not at all; returns the path for the report.
    pub(super) fn write(&self, content: &impl Content, sheets: Sheets) -> Result<String, CommandError> {
        write(&self.path, &render(content, self.paper, self.format, sheets)?)?;
        Ok(self.path.display().to_string())
    }
}

/// Where a page goes that may also be its drawing alone.
#[derive(Clone, Debug)]
pub(super) enum Target {
    /// The page.
    Page(PageTarget),
    /// The drawing, as SVG.
    Svg(PathBuf),
}

impl Target {
    /// As [`PageTarget::new`], with `.svg` for the drawing alone.
    pub(super) fn of(
        option: &str,
        path: Option<&PathBuf>,
        paper: PaperArg,
    ) -> Result<Option<Self>, CommandError> {
        let target = |path: &PathBuf| {
            if ends_in(path, "svg") {
                folder_exists(path).map(|()| Self::Svg(path.clone()))
            } else {
                PageTarget::new(option, path, paper).map(Self::Page)
            }
        };
        path.map(target).transpose()
    }
}

/// What is written in one way alone: a path that cannot be is an error before the work.
pub(super) fn file_for_option(option: &str, path: &Path, ending: &str) -> Result<(), CommandError> {
    if !ends_in(path, ending) {
        return Err(CommandError::Usage(format!(
            "{option} {}: the name must end in .{ending}",
            path.display()
        )));
    }
    folder_exists(path)
}

fn ends_in(path: &Path, ending: &str) -> bool {
    path.extension().is_some_and(|its_own| its_own.eq_ignore_ascii_case(ending))
}

/// Writes a file whole or not at all.
pub(super) fn write(path: &Path, bytes: &[u8]) -> Result<(), CommandError> {
    ingest::run_folder::write_whole(path, bytes).map_err(|cause| CommandError::at(path, cause))
}

/// Makes a folder; where there is one already, `there` is what to say behind its name.
pub(super) fn make_folder(folder: &Path, there: &str) -> Result<(), CommandError> {
    std::fs::create_dir(folder).map_err(|cause| match cause.kind() {
        ErrorKind::AlreadyExists => CommandError::failed(format!("{}{there}", folder.display())),
        _ => CommandError::at(folder, cause),
    })
}

/// A path that cannot be is an error before the work.
pub(super) fn folder_exists(path: &Path) -> Result<(), CommandError> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    if folder.is_some_and(|folder| !folder.is_dir()) {
        return Err(CommandError::at(path, "the folder for it does not exist; make it first"));
    }
    Ok(())
}

impl ReportArgs {
    /// The units to print in, beside the description of a plow.
    pub(super) fn units(&self, plow: Option<&Plow>) -> Result<Units, CommandError> {
        let units = Units::of_reader(self.units, plow.and_then(|plow| plow.units));
        Ok(units.map_err(CommandError::Usage)?.unwrap_or_default())
    }
}

#[cfg(test)]
mod tests {
    use super::visible;

    #[test]
    fn what_a_terminal_would_obey_is_written_out() {
        assert_eq!(visible("a\u{1b}[2Jb\u{202e}c\n\td\u{85}"), "a\\u001b[2Jb\\u202ec\n\td\\u0085");
        let sound = "tail load 1 200 N ± 30 N, 12° — ρ ≥ 0\n";
        assert_eq!(visible(sound), sound);
    }
}
