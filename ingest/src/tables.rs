//! The text of a run's files from the records of its ports: the one way to it, live and rebuilt.

use crate::assemble::{Assembler, CalibratedSensor};
use crate::csv_text::{FIXES_HEADER, push_event, push_fix, push_row, rows_header};
use crate::gnss::Receiver;
use crate::run_event::Item;
use crate::wire_file::{Record, WireEvent};

/// Name of a receiver's files without their ending, and in its events.
pub const GNSS_FILE: &str = "gnss";

/// The table of one box.
#[derive(Clone, Debug)]
struct BoxTable {
    file: String,
    assembler: Assembler,
    header_written: bool,
}

/// Takes records of all ports in the order of their host times and gives lines of CSV. Ports are numbered:
/// the boxes from 0, then the GNSS receiver, if there is one.
#[derive(Clone, Debug)]
pub struct Tables {
    boxes: Vec<BoxTable>,
    receiver: Option<Receiver>,
}

impl Tables {
    /// The tables of boxes whose files have these names (without ending), and a receiver if there is one.
    pub fn new(boxes: &[String], sensors: &[CalibratedSensor], has_gnss: bool) -> Self {
        let table = |file: &String| BoxTable {
            file: file.clone(),
            assembler: Assembler::new(sensors.to_vec()),
            header_written: false,
        };
        Self { boxes: boxes.iter().map(table).collect(), receiver: has_gnss.then(Receiver::default) }
    }

    /// Names of the files, without ending, in the order of the ports.
    pub fn files(&self) -> Vec<String> {
        let boxes = self.boxes.iter().map(|table| table.file.clone());
        boxes.chain(self.receiver.as_ref().map(|_| GNSS_FILE.to_owned())).collect()
    }

    /// Takes a record of the port of this number and appends what comes of it to its rows and to the events.
    pub fn take(&mut self, number: usize, record: &Record, rows: &mut String, events: &mut String) {
        self.step(number, Some(record), rows, events);
    }

    /// Lets go of rows that still wait: after the last record.
    pub fn finish(&mut self, number: usize, rows: &mut String, events: &mut String) {
        self.step(number, None, rows, events);
    }

    fn step(&mut self, number: usize, record: Option<&Record>, rows: &mut String, events: &mut String) {
        let begins = record.is_some_and(|record| record.what == WireEvent::Started);
        let (several, is_receiver) = (self.boxes.len() > 1, number == self.boxes.len());
        if let Some(BoxTable { file, assembler, header_written }) = self.boxes.get_mut(number) {
            let mut items = Vec::new();
            match record {
                Some(record) => assembler.take(record, &mut items),
                None => assembler.finish(&mut items),
            }
            // The columns are settled by the hello, without which no run begins.
            if begins && !std::mem::replace(header_written, true) {
                rows.push_str(&rows_header(assembler.columns()));
            }
            for item in items {
                match item {
                    Item::Row(row) => push_row(&row, assembler.columns(), rows),
                    Item::Event(event) => push_event(&event, several.then_some(file.as_str()), events),
                }
            }
        } else if let (Some(receiver), true) = (&mut self.receiver, is_receiver) {
            if begins && receiver.clock.started_us.is_none() {
                rows.push_str(FIXES_HEADER);
            }
            let mut items = Vec::new();
            match record {
                Some(record) => receiver.take(record, &mut items),
                None => receiver.finish(&mut items),
            }
            for item in items {
                match item {
                    Item::Row(fix) => push_fix(&fix, rows),
                    Item::Event(event) => push_event(&event, Some(GNSS_FILE), events),
                }
            }
        }
    }

    /// The state machine of the box of this number.
    pub fn assembler(&self, number: usize) -> Option<&Assembler> {
        self.boxes.get(number).map(|table| &table.assembler)
    }

    /// The state machine of the receiver.
    pub fn receiver(&self) -> Option<&Receiver> {
        self.receiver.as_ref()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::script::{Script, sensors};

    /// A wire file that was put together from two has two beginnings: one header each all the same.
    #[test]
    fn a_second_beginning_gives_no_second_header_and_a_port_that_is_none_gives_nothing() {
        let mut tables = Tables::new(&["plow".to_owned()], &sensors(), true);
        assert_eq!(tables.files(), ["plow", "gnss"]);
        let mut script = Script::begun(9_000_000, 0);
        script.send_rows(1);
        script.record(WireEvent::Started);
        let started = script.records.last().unwrap().clone();
        let (mut rows, mut fixes, mut events) = (String::new(), String::new(), String::new());
        for record in &script.records {
            tables.take(0, record, &mut rows, &mut events);
        }
        assert_eq!(rows.matches("t_s,").count(), 1, "{rows}");
        assert!(rows.starts_with("t_s,pull_n,depth_mm\n"), "{rows}");
        tables.take(1, &started, &mut fixes, &mut events);
        tables.take(1, &started, &mut fixes, &mut events);
        assert_eq!(fixes, FIXES_HEADER);
        let (mut none, before) = (String::new(), events.clone());
        tables.take(2, &started, &mut none, &mut events);
        tables.finish(2, &mut none, &mut events);
        assert_eq!((none.as_str(), &events), ("", &before));
        // With one box alone there is nothing to be told apart.
        tables.finish(0, &mut rows, &mut events);
        assert!(events.contains(",first-row,row=0"), "{events}");
    }
}
