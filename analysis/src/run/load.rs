//! A run folder: its description, its readings and its events.

use super::{CsvError, Table, read_table};
use ingest::assemble::{EventKind, RunEvent};
use ingest::open_run::{OpenedRun, open_run};
use ingest::plow::ChannelRole;
use ingest::run_toml::{RunDescription, RunFileError};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A run as it was recorded.
#[derive(Clone, Debug)]
pub struct Run {
    /// What was tested, with what.
    pub description: RunDescription,
    /// Readings of the first sensor box.
    pub table: Table,
    /// What happened during the recording.
    pub events: Vec<RunEvent>,
    /// What is not as it should be, one sentence each.
    pub notices: Vec<String>,
}

/// Why a run cannot be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RunError {
    /// Its description.
    #[error(transparent)]
    Description(#[from] RunFileError),
    /// Its readings.
    #[error(transparent)]
    Readings(#[from] CsvError),
    /// A channel without which there is no verdict.
    #[error(
        "{}: the run has no column {column}: a verdict needs pull_n, tail_mm and depth_mm; is the channel in the \
         plow description's [[sensors]]?", path.display()
    )]
    NoChannel {
        /// The file.
        path: PathBuf,
        /// The column.
        column: &'static str,
    },
}

/// Reads a run folder. The folder is never changed; what had to be left out is in the notices.
///
/// # Errors
/// [`RunError`] says which file, and which line of it, cannot be used.
pub fn load_run(folder: &Path) -> Result<Run, RunError> {
    let OpenedRun { mut description, files, events, notices, .. } = open_run(folder)?;
    // The shares of that day count, not those of the day on which the plow was described.
    description.plow.bottoms.share = description.run.share;
    let no_channel = |path: &Path, column| RunError::NoChannel { path: path.to_owned(), column };
    let file = files.first().ok_or_else(|| no_channel(folder, ChannelRole::Pull.column()))?;
    let table = read_table(file)?;
    for role in [ChannelRole::Pull, ChannelRole::Tail, ChannelRole::Depth] {
        if !table.channels.contains_key(&role) {
            return Err(no_channel(&file.path, role.column()));
        }
    }
    Ok(Run { description, table, events, notices })
}

impl Run {
    /// Stretches in which a channel was at an end of its converter: from and to in s of run time.
    #[must_use]
    pub fn saturated_s(&self) -> BTreeMap<ChannelRole, Vec<(f64, f64)>> {
        let mut found: BTreeMap<ChannelRole, Vec<(f64, f64)>> = BTreeMap::new();
        let end_s = self.table.t_s.last().copied().unwrap_or(0.0);
        for event in &self.events {
            let Some(role) = column_of(&event.detail) else { continue };
            let t_s = event.t_us as f64 / 1e6;
            let stretches = found.entry(role).or_default();
            match event.kind {
                // Until its end is seen, a stretch lasts to the end of the run.
                EventKind::Saturated => stretches.push((t_s, end_s)),
                EventKind::SaturatedEnd => {
                    if let Some(last) = stretches.last_mut() {
                        last.1 = t_s;
                    }
                }
                _ => {}
            }
        }
        found
    }

    /// How often something happened.
    #[must_use]
    pub fn count(&self, kind: EventKind) -> usize {
        self.events.iter().filter(|event| event.kind == kind).count()
    }
}

/// The column in a detail such as `column=pull_n; count=8388607`.
fn column_of(detail: &str) -> Option<ChannelRole> {
    let name = detail.split(';').find_map(|part| part.trim().strip_prefix("column="))?;
    ChannelRole::of_column(name)
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::plow::ShareCondition;

    /// The plow of the stored run is described with sharp shares; the pass was driven with worn ones.
    #[test]
    fn the_shares_told_for_the_pass_stand_over_those_of_the_description() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/runs/worn-shares");
        let description = open_run(&folder).unwrap().description;
        assert_eq!(description.plow.bottoms.share, ShareCondition::Sharp);
        let run = load_run(&folder).unwrap();
        assert_eq!(run.description.plow.bottoms.share, ShareCondition::Worn);
    }
}
