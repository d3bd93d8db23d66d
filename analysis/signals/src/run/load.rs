//! A run folder: its description, its readings and its events; and what is left out of it because its times are not those of
//! the rest.

use super::csv::{CsvError, GnssTable, Table, read_gnss, read_table};
use super::missing::{MissingRows, detail_of, is_of_box, missing_rows};
use super::notice::Notice;
use ingest::assemble::{EventKind, RunEvent};
use ingest::description_file::DescriptionError;
use ingest::open_run::{OpenedRun, WholeFile, open_run};
use ingest::plow::{ChannelRole, Plow};
use ingest::run_toml::{BoxInfo, RunDescription, RunTime};
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
    let run = &description.run;
    let assumed = run.setting_assumed.then(|| Notice::SettingAssumed { setting: run.setting_name.clone() });
    let not_whole = notices.into_iter().map(|what| Notice::NotWhole { what });
    let mut notices: Vec<Notice> = assumed.into_iter().chain(not_whole).collect();
    // The shares of that day count, not those of the day on which the plow was described.
    description.plow.bottoms.share = description.run.share;
    let own = description.plow.own_columns();
    let mut tables = Vec::new();
    let mut empty = None;
    for file in &files {
        tables.push(match read_table(file, &own) {
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
            let counters = description.gnss.as_ref().and_then(|receiver| receiver.counters);
            notices.push(match counters {
                Some(counters) if counters.bytes == 0 => Notice::NoReceiver { path },
                _ => Notice::NeverAFix { path },
            });
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
    let mut own_kept: BTreeMap<String, &Path> = BTreeMap::new();
    let mut notices = Vec::new();
    for (file, table) in files.iter().zip(tables) {
        table.own.retain(|column, _| match own_kept.get(column) {
            Some(first) => {
                let (path, used) = (file.path.clone(), (*first).to_owned());
                notices.push(Notice::OwnDoubled { column: column.clone(), path, used });
                false
            }
            None => {
                own_kept.insert(column.clone(), &file.path);
                true
            }
        });
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
    pub fn count(&self, kind: EventKind) -> usize {
        self.events.iter().filter(|event| event.kind == kind).count()
    }
}

/// A needed channel is on a box whose run time follows its own clock alone.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "{file}.csv: {column} comes from box {name}, whose clock runs apart from the computer's, so that it is not to be \
     joined with the other boxes' channels: change that box, or have all needed channels on one"
)]
pub struct ClockApart {
    /// The box's file, without its ending.
    pub file: String,
    /// The column.
    pub column: &'static str,
    /// Name of the box.
    pub name: String,
}

impl Run {
    /// Leaves out what is not to be joined with the others, with a notice: channels of boxes whose run time follows
    /// their own clock alone, and a receiver beside such a box. If such a box has all needed channels, it stands alone,
    /// and all other boxes are left out.
    ///
    /// # Errors
    /// [`ClockApart`] if a needed channel would go.
    pub fn leave_out_apart(&mut self) -> Result<(), ClockApart> {
        self.leave_out_boxes()?;
        self.leave_out_own();
        let mut stay = self.description.boxes.iter().zip(&self.tables);
        // The receiver's times are the computer's.
        if stay.any(|(info, table)| is_apart(info) && !table.channels.is_empty())
            && self.gnss.take().is_some()
        {
            self.notices.push(Notice::ReceiverApart);
        }
        Ok(())
    }

    /// The user's own columns stay where the channels of their box do, and beside other boxes only where all go by the
    /// computer's clock.
    fn leave_out_own(&mut self) {
        let boxes = &self.description.boxes;
        let used: Vec<usize> = (0..boxes.len())
            .filter(|at| self.tables.get(*at).is_some_and(|table| !table.channels.is_empty()))
            .collect();
        let any_apart = used.iter().any(|at| boxes.get(*at).is_some_and(is_apart));
        for (at, (info, table)) in boxes.iter().zip(&mut self.tables).enumerate() {
            if table.own.is_empty() || used == [at] || !(any_apart || is_apart(info)) {
                continue;
            }
            let columns = std::mem::take(&mut table.own).into_keys().collect();
            let (file, name) = (info.file.clone(), info.name.clone());
            self.notices.push(Notice::OwnApart { file, name, columns });
        }
    }

    fn leave_out_boxes(&mut self) -> Result<(), ClockApart> {
        let boxes = &self.description.boxes;
        let used = self.tables.iter().filter(|table| !table.channels.is_empty()).count();
        if used < 2 || !boxes.iter().any(is_apart) {
            return Ok(());
        }
        let plow = &self.description.plow;
        let has_all =
            |table: &Table| plow.missing_for_a_verdict(|role| table.channels.contains_key(&role)).is_none();
        let whole = self.tables.iter().position(has_all).filter(|at| boxes.get(*at).is_some_and(is_apart));
        let leaves =
            |at: usize| whole.map_or_else(|| boxes.get(at).is_some_and(is_apart), |alone| at != alone);
        let stay: Vec<&Table> =
            self.tables.iter().enumerate().filter(|(at, _)| !leaves(*at)).map(|(_, table)| table).collect();
        let has = |role| stay.iter().any(|table| table.channels.contains_key(&role));
        let needed = plow.missing_for_a_verdict(has).is_some();
        let leaving: Vec<bool> = (0..self.tables.len()).map(leaves).collect();
        for ((info, table), leaves) in boxes.iter().zip(&mut self.tables).zip(leaving) {
            let BoxInfo { name, file, .. } = info;
            let Some(first) = table.channels.keys().next().filter(|_| leaves) else { continue };
            if needed {
                let (file, name) = (file.clone(), name.clone());
                return Err(ClockApart { file, column: first.column(), name });
            }
            let channels = std::mem::take(&mut table.channels).into_keys().collect();
            self.notices.push(Notice::BoxApart { file: file.clone(), name: name.clone(), channels });
        }
        Ok(())
    }
}

fn is_apart(info: &BoxInfo) -> bool {
    info.clock.as_ref().is_some_and(|clock| clock.run_time == RunTime::BoxAlone)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::GnssTable;
    use ingest::plow::ChannelRole::{self, Depth, FrontLoad, Pull, Tail};
    use ingest::plow::ShareCondition;
    use std::path::Path;

    /// The plow of the stored run is described with sharp shares; the pass was driven with worn ones.
    #[test]
    fn the_shares_reported_for_the_pass_stand_over_those_of_the_description() {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/runs/worn-shares");
        let description = open_run(&folder).unwrap().description;
        assert_eq!(description.plow.bottoms.share, ShareCondition::Sharp);
        let run = load_run(&folder).unwrap();
        assert_eq!(run.description.plow.bottoms.share, ShareCondition::Worn);
    }

    /// The stored run with its box's channels on several boxes, of which some run apart.
    fn run(boxes: &[(&str, &[ChannelRole], RunTime)]) -> Run {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/runs/balanced");
        let mut run = crate::run::load_run(&folder).unwrap();
        let (info, table) = (run.description.boxes.remove(0), run.tables.remove(0));
        for (name, roles, run_time) in boxes {
            let mut info = BoxInfo { name: (*name).to_owned(), file: (*name).to_owned(), ..info.clone() };
            info.clock.as_mut().unwrap().run_time = *run_time;
            run.description.boxes.push(info);
            let readings = &table.channels[&Pull];
            let channels =
                roles.iter().map(|role| (*role, table.channels.get(role).unwrap_or(readings).clone()));
            let channels = channels.collect();
            run.tables.push(Table { t_s: table.t_s.clone(), channels, ..Table::default() });
        }
        run
    }

    #[test]
    fn what_is_not_needed_is_left_out_and_told_and_what_is_needed_refuses() {
        use RunTime::{BoxAlone, Host};
        let mut left = run(&[("rear", &[Pull, Tail, Depth], Host), ("front", &[FrontLoad], BoxAlone)]);
        left.leave_out_apart().unwrap();
        assert!(left.tables[1].channels.is_empty() && left.tables[0].channels.len() == 3);
        let (file, name) = ("front".to_owned(), "front".to_owned());
        assert!(left.notices.contains(&Notice::BoxApart { file, name, channels: vec![FrontLoad] }));
        let mut alone = run(&[("rear", &[Pull, Tail, Depth], BoxAlone), ("front", &[FrontLoad], Host)]);
        alone.leave_out_apart().unwrap();
        assert!(alone.tables[1].channels.is_empty() && alone.tables[0].channels.len() == 3);
        let mut needed = run(&[("rear", &[Tail, Depth], Host), ("front", &[Pull, FrontLoad], BoxAlone)]);
        let error = needed.leave_out_apart().unwrap_err().to_string();
        assert!(error.contains("front.csv: pull_n comes from box front, whose clock runs apart"), "{error}");
        let mut one = run(&[("rear", &[Pull, Tail, Depth], BoxAlone)]);
        one.leave_out_apart().unwrap();
        assert_eq!(one.tables[0].channels.len(), 3);
    }

    /// A column of one's own is set against the working part, which is known by the clock of the channels.
    #[test]
    fn an_own_column_stays_only_where_its_times_are_those_of_the_channels() {
        use RunTime::{BoxAlone, Host};
        let needed = &[Pull, Tail, Depth];
        for (boxes, of, stays) in [
            (vec![("rear", &needed[..], Host)], 0, true),
            (vec![("rear", &needed[..], BoxAlone)], 0, true),
            (vec![("rear", &needed[..], Host), ("engine", &[][..], Host)], 1, true),
            (vec![("rear", &needed[..], Host), ("engine", &[][..], BoxAlone)], 1, false),
            (vec![("rear", &needed[..], BoxAlone), ("engine", &[][..], Host)], 1, false),
        ] {
            let mut run = run(&boxes);
            let rows = run.tables[of].t_s.len();
            run.tables[of].own.insert("own_engine_speed".to_owned(), vec![1500.0; rows]);
            run.leave_out_apart().unwrap();
            let notice = Notice::OwnApart {
                file: boxes[of].0.to_owned(),
                name: boxes[of].0.to_owned(),
                columns: vec!["own_engine_speed".to_owned()],
            };
            let told = run.notices.contains(&notice);
            assert_eq!((!run.tables[of].own.is_empty(), told), (stays, !stays), "{boxes:?}");
        }
    }

    /// Places and speeds are told by the computer's clock.
    #[test]
    fn a_receiver_is_not_joined_with_a_box_that_runs_apart() {
        use RunTime::{BoxAlone, Host};
        let receiver = GnssTable { t_s: vec![0.0, 1.0], ..GnssTable::default() };
        let needed = &[Pull, Tail, Depth];
        for (boxes, stays) in [
            (vec![("rear", &needed[..], BoxAlone)], false),
            (vec![("rear", &needed[..], BoxAlone), ("front", &[FrontLoad][..], Host)], false),
            (vec![("rear", &needed[..], Host), ("front", &[FrontLoad][..], BoxAlone)], true),
            // A box that runs apart and sent nothing takes nothing with it.
            (vec![("rear", &needed[..], Host), ("front", &[][..], BoxAlone)], true),
        ] {
            let mut run = run(&boxes);
            run.gnss = Some(receiver.clone());
            run.leave_out_apart().unwrap();
            let reported = run.notices.contains(&Notice::ReceiverApart);
            assert_eq!((run.gnss.is_some(), reported), (stays, !stays), "{boxes:?}");
        }
    }
}
