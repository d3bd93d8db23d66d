//! Where reports and pages go.

use super::CommandError;
use super::args::{PageArgs, PaperArg};
use page::{Format, PageError, Paper};
use std::io::Write;
use std::path::Path;

/// Prints a report. A reader that has seen enough (`| head`) is a normal end.
///
/// # Errors
/// [`CommandError::Failed`] where it cannot be written, to a full disk say.
pub(super) fn print(report: &str) -> Result<(), CommandError> {
    let mut out = std::io::stdout().lock();
    match out.write_all(visible(report).as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(()),
        done => {
            done.map_err(|cause| CommandError::failed(format!("the report could not be written: {cause}")))
        }
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
    serde_json::to_string_pretty(value).map(|text| text + "\n").map_err(CommandError::failed)
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
    path: std::path::PathBuf,
    format: Format,
    paper: Paper,
}

impl PageTarget {
    /// The target that was asked for, if one was: a path that cannot be is an error before the work, not
    /// after it. An older page of the same name is replaced, but only once the new one is whole.
    pub(super) fn of(args: &PageArgs) -> Result<Option<Self>, CommandError> {
        let Some(path) = &args.output else { return Ok(None) };
        Self::new(path, args.paper).map(Some)
    }

    /// Kind of file.
    pub(super) fn format(&self) -> Format {
        self.format
    }

    /// A page at this path.
    pub(super) fn new(path: &Path, paper: PaperArg) -> Result<Self, CommandError> {
        Self::for_option("-o", path, paper)
    }

    /// A page at the path that was given with `option`.
    fn for_option(option: &str, path: &Path, paper: PaperArg) -> Result<Self, CommandError> {
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
    pub(super) fn write(
        &self,
        render: impl FnOnce(Paper, Format) -> Result<Vec<u8>, PageError>,
    ) -> Result<String, CommandError> {
        let bytes = render(self.paper, self.format).map_err(CommandError::failed)?;
        write(&self.path, &bytes)?;
        Ok(self.path.display().to_string())
    }
}

/// Where the drawing of a statics calculation goes.
#[derive(Clone, Debug)]
pub(super) enum Target {
    /// The page.
    Page(PageTarget),
    /// The force diagram alone, as SVG.
    Diagram(std::path::PathBuf),
}

impl Target {
    /// As [`PageTarget::of`], with `.svg` for the diagram alone.
    pub(super) fn of(args: &PageArgs) -> Result<Option<Self>, CommandError> {
        match &args.output {
            Some(path) if is_svg(path) => {
                folder_exists(path)?;
                Ok(Some(Self::Diagram(path.clone())))
            }
            _ => Ok(PageTarget::of(args)?.map(Self::Page)),
        }
    }
}

/// Where a wall diagram goes.
#[derive(Clone, Debug)]
pub(super) enum WallTarget {
    /// PDF or PNG.
    Page(PageTarget),
    /// SVG of the paper's size.
    Svg(std::path::PathBuf, Paper),
}

impl WallTarget {
    /// The target, if one was asked for; a path that cannot be is an error before the work.
    pub(super) fn of(path: Option<&Path>, paper: PaperArg) -> Result<Option<Self>, CommandError> {
        match path {
            None => Ok(None),
            Some(path) if is_svg(path) => {
                folder_exists(path)?;
                Ok(Some(Self::Svg(path.to_owned(), paper.into())))
            }
            Some(path) => Ok(Some(Self::Page(PageTarget::for_option("--wall", path, paper)?))),
        }
    }
}

/// A chart that is written as SVG alone: a path that cannot be is an error before the work.
pub(super) fn svg_for_option(option: &str, path: &Path) -> Result<(), CommandError> {
    if !is_svg(path) {
        return Err(CommandError::Usage(format!("{option} {}: the name must end in .svg", path.display())));
    }
    folder_exists(path)
}

fn is_svg(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("svg"))
}

/// Writes a file whole or not at all.
pub(super) fn write(path: &Path, bytes: &[u8]) -> Result<(), CommandError> {
    ingest::run_folder::write_whole(path, bytes)
        .map_err(|cause| CommandError::failed(format!("{}: {cause}", path.display())))
}

fn folder_exists(path: &Path) -> Result<(), CommandError> {
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
    if folder.is_some_and(|folder| !folder.is_dir()) {
        let path = path.display();
        return Err(CommandError::failed(format!("{path}: the folder for it does not exist; make it first")));
    }
    Ok(())
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
