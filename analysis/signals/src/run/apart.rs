//! Boxes whose times are not those of the others.

use super::csv::Table;
use super::load::Run;
use super::notice::Notice;
use ingest::run_toml::{BoxInfo, RunTime};

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
        let mut stay = self.description.boxes.iter().zip(&self.tables);
        // The receiver's times are the computer's.
        if stay.any(|(info, table)| is_apart(info) && !table.channels.is_empty())
            && self.gnss.take().is_some()
        {
            self.notices.push(Notice::ReceiverApart);
        }
        Ok(())
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
    use std::path::Path;

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
            run.tables.push(Table { t_s: table.t_s.clone(), channels: channels.collect() });
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
