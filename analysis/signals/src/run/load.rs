//! A run folder: its description, its readings and its events.

use super::csv::CsvError;
use super::csv::{Table, read_table};
use super::gnss_read::{GnssTable, read_gnss};
use super::missing::{MissingRows, detail_of, is_of_box, missing_rows};
use super::notice::Notice;
use ingest::assemble::{EventKind, RunEvent};
use ingest::description_file::DescriptionError;
use ingest::open_run::{OpenedRun, WholeFile, open_run};
use ingest::plow::{ChannelRole, Plow};
use ingest::run_toml::RunDescription;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// A run as it was recorded.
#[derive(Clone, Debug)]
pub struct Run {
    /// What was tested, with what.
    pub description: RunDescription,
    /// Readings of each sensor box, in the order of the description; no column is in two of them.
    pub tables: Vec<Table>,
    /// Fixes of the GNSS receiver, if there were any.
    pub gnss: Option<GnssTable>,
    /// What happened during the recording.
    pub events: Vec<RunEvent>,
    /// What is not as it should be.
    pub notices: Vec<Notice>,
}

/// Why a run cannot be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum RunError {
    /// Its description.
    #[error(transparent)]
    Description(#[from] DescriptionError),
    /// Its readings.
    #[error(transparent)]
    Readings(#[from] CsvError),
    /// A channel without which there is no verdict; `missing` also says what would do.
    #[error("{}: the run has {missing}; is the channel in the plow description's [[sensors]]?", path.display())]
    NoChannel { path: PathBuf, missing: String },
}

/// Reads a run folder. The folder is never changed; what had to be left out is in the notices.
///
/// # Errors
/// [`RunError`] says which file, and which line of it, cannot be used.
pub fn load_run(folder: &Path) -> Result<Run, RunError> {
    let OpenedRun { mut description, files, gnss, events, notices, .. } = open_run(folder)?;
    let mut notices: Vec<Notice> = notices.into_iter().map(|what| Notice::NotWhole { what }).collect();
    // The shares of that day count, not those of the day on which the plow was described.
    description.plow.bottoms.share = description.run.share;
    let mut tables = Vec::new();
    let mut empty = None;
    for file in &files {
        tables.push(match read_table(file) {
            // What one box never sent may not be needed: that is seen below.
            Err(CsvError::Empty { path, header_only }) if files.len() > 1 => {
                notices.push(Notice::NoRows { path: path.clone(), header_only });
                empty.get_or_insert(CsvError::Empty { path, header_only });
                Table::default()
            }
            read => read?,
        });
    }
    notices.extend(missing_rows(&description, &tables, &events).map(Notice::MissingRows));
    notices.extend(drop_doubled(&files, &mut tables));
    let plow = &description.plow;
    notices.extend(plow.runs_in_notice().map(|_| Notice::RunsInNotStated));
    notices.extend(drop_useless(plow, &mut tables));
    let has = |role: ChannelRole| tables.iter().any(|table| table.channels.contains_key(&role));
    if let Some(missing) = plow.missing_for_a_verdict(has) {
        let path = files.first().map_or(folder, |file| &file.path).to_owned();
        return Err(empty.map_or(RunError::NoChannel { path, missing }, RunError::Readings));
    }
    let gnss = match gnss.as_ref().map(read_gnss) {
        // A receiver that never had a fix leaves the header alone.
        Some(Err(CsvError::Empty { path, .. })) => {
            notices.push(Notice::NeverAFix { path });
            None
        }
        read => read.transpose()?,
    };
    Ok(Run { description, tables, gnss, events, notices })
}

/// Leaves out what says nothing of this plow.
fn drop_useless(plow: &Plow, tables: &mut [Table]) -> Vec<Notice> {
    let useless = |role: &ChannelRole| plow.cannot_use(*role).is_some();
    let dropped = tables.iter_mut().flat_map(|table| table.channels.extract_if(.., |role, _| useless(role)));
    dropped.map(|(channel, _)| Notice::CannotUse { channel }).collect()
}

/// Of a column that two boxes fill, the first box's is kept: two sensors of one thing are not one sensor.
fn drop_doubled(files: &[WholeFile], tables: &mut [Table]) -> Vec<Notice> {
    let mut kept: BTreeMap<ChannelRole, &Path> = BTreeMap::new();
    let mut notices = Vec::new();
    for (file, table) in files.iter().zip(tables) {
        table.channels.retain(|role, _| match kept.get(role) {
            Some(first) => {
                let (path, used) = (file.path.clone(), (*first).to_owned());
                notices.push(Notice::Doubled { channel: *role, path, used });
                false
            }
            None => {
                kept.insert(*role, &file.path);
                true
            }
        });
    }
    notices
}

impl Run {
    /// Rows that were recorded and that the tables no longer hold, of the notices.
    pub fn missing_rows(&self) -> impl Iterator<Item = &MissingRows> {
        self.notices.iter().filter_map(|notice| match notice {
            Notice::MissingRows(missing) => Some(missing),
            _ => None,
        })
    }

    /// Stretches in which a channel was at an end of its converter: from and to in s of run time.
    #[must_use]
    pub fn saturated_s(&self) -> BTreeMap<ChannelRole, Vec<(f64, f64)>> {
        let mut found: BTreeMap<ChannelRole, Vec<(f64, f64)>> = BTreeMap::new();
        let end_s = self.tables.iter().filter_map(|table| table.t_s.last()).fold(0.0, |a: f64, b| a.max(*b));
        for event in &self.events {
            let Some(role) = detail_of(event, "column=")
                .and_then(ChannelRole::of_column)
                .filter(|role| self.is_of(event, *role))
            else {
                continue;
            };
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

    /// Whether the column of an event is the one that is used, when two boxes fill it.
    fn is_of(&self, event: &RunEvent, role: ChannelRole) -> bool {
        let boxes = self.description.boxes.iter().map(|info| info.file.as_str()).zip(&self.tables);
        let mut of_event = boxes.filter(|(file, _)| is_of_box(&event.detail, file));
        of_event.all(|(_, table)| table.channels.contains_key(&role))
    }

    /// How often something happened.
    #[must_use]
    pub fn count(&self, kind: EventKind) -> usize {
        self.events.iter().filter(|event| event.kind == kind).count()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::plow::ShareCondition;

    /// The plow of the stored run is described with sharp shares; the pass was driven with worn ones.
    #[test]
    fn the_shares_reported_for_the_pass_stand_over_those_of_the_description() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/runs/worn-shares");
        let description = open_run(&folder).unwrap().description;
        assert_eq!(description.plow.bottoms.share, ShareCondition::Sharp);
        let run = load_run(&folder).unwrap();
        assert_eq!(run.description.plow.bottoms.share, ShareCondition::Worn);
    }
}
