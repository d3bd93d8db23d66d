//! The text of a run's files from the records of its ports: the one way to it, live and rebuilt.

use crate::assemble::{Assembler, CalibratedSensor, Item};
use crate::csv_text::{EVENTS_HEADER, FIXES_HEADER, push_event, push_fix, push_row, rows_header};
use crate::gnss::{GnssItem, Receiver};
use crate::wire_file::{Happening, Record};

/// Name of a receiver's files without their ending, and in its events.
pub const GNSS_FILE: &str = "gnss";

/// One box in it.
#[derive(Clone, Debug)]
struct Scribe {
    file: String,
    assembler: Assembler,
    header_written: bool,
}

/// Takes records of all ports in the order of their host times and gives lines of CSV. Ports are numbered:
/// the boxes from 0, then the GNSS receiver, if there is one.
#[derive(Clone, Debug)]
pub struct Transcript {
    scribes: Vec<Scribe>,
    receiver: Option<Receiver>,
    items: Vec<Item>,
    gnss_items: Vec<GnssItem>,
}

impl Transcript {
    /// A transcript for boxes whose files have these names (without ending), and a receiver if there is one.
    #[must_use]
    pub fn new(boxes: &[String], sensors: &[CalibratedSensor], has_gnss: bool) -> Self {
        let scribe = |file: &String| Scribe {
            file: file.clone(),
            assembler: Assembler::new(sensors.to_vec()),
            header_written: false,
        };
        Self {
            scribes: boxes.iter().map(scribe).collect(),
            receiver: has_gnss.then(Receiver::default),
            items: Vec::new(),
            gnss_items: Vec::new(),
        }
    }

    /// What `events.csv` begins with.
    #[must_use]
    pub fn events_header() -> &'static str {
        EVENTS_HEADER
    }

    /// Names of the files, without ending, in the order of the ports.
    #[must_use]
    pub fn files(&self) -> Vec<String> {
        let boxes = self.scribes.iter().map(|scribe| scribe.file.clone());
        boxes.chain(self.receiver.as_ref().map(|_| GNSS_FILE.to_owned())).collect()
    }

    /// Takes a record of the port of this number and appends what comes of it to its rows and to the events.
    pub fn take(&mut self, number: usize, record: &Record, rows: &mut String, events: &mut String) {
        let begins = record.what == Happening::Started;
        if let Some(scribe) = self.scribes.get_mut(number) {
            scribe.assembler.take(record, &mut self.items);
            // The columns are settled by the hello, without which no run begins.
            if begins && !scribe.header_written {
                scribe.header_written = true;
                rows.push_str(&rows_header(scribe.assembler.columns()));
            }
            self.write_items(number, rows, events);
        } else if let (Some(receiver), true) = (&mut self.receiver, number == self.scribes.len()) {
            if begins && !receiver.clock().has_started() {
                rows.push_str(FIXES_HEADER);
            }
            receiver.take(record, &mut self.gnss_items);
            self.write_gnss_items(rows, events);
        }
    }

    /// Lets go of rows that still wait: after the last record.
    pub fn finish(&mut self, number: usize, rows: &mut String, events: &mut String) {
        if let Some(scribe) = self.scribes.get_mut(number) {
            scribe.assembler.finish(&mut self.items);
            self.write_items(number, rows, events);
        } else if let (Some(receiver), true) = (&mut self.receiver, number == self.scribes.len()) {
            receiver.finish(&mut self.gnss_items);
            self.write_gnss_items(rows, events);
        }
    }

    fn write_items(&mut self, number: usize, rows: &mut String, events: &mut String) {
        let several = self.scribes.len() > 1;
        let Some(scribe) = self.scribes.get(number) else { return };
        for item in self.items.drain(..) {
            match item {
                Item::Row(row) => push_row(&row, scribe.assembler.columns(), rows),
                Item::Event(event) => push_event(&event, several.then_some(scribe.file.as_str()), events),
            }
        }
    }

    fn write_gnss_items(&mut self, rows: &mut String, events: &mut String) {
        for item in self.gnss_items.drain(..) {
            match item {
                GnssItem::Fix(fix) => push_fix(&fix, rows),
                GnssItem::Event(event) => push_event(&event, Some(GNSS_FILE), events),
            }
        }
    }

    /// The state machine of the box of this number.
    #[must_use]
    pub fn assembler(&self, number: usize) -> Option<&Assembler> {
        self.scribes.get(number).map(|scribe| &scribe.assembler)
    }

    /// The state machine of the receiver.
    #[must_use]
    pub fn receiver(&self) -> Option<&Receiver> {
        self.receiver.as_ref()
    }
}
