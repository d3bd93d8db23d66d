//! The text of a run's files from the records of its boxes: the one way to it, live and rebuilt.

use crate::assemble::{Assembler, CalibratedSensor, Item, Row};
use crate::csv_text::{EVENTS_HEADER, push_event, push_row, rows_header};
use crate::wire_file::{Happening, Record};

/// One box in it.
#[derive(Clone, Debug)]
struct Scribe {
    file: String,
    assembler: Assembler,
    header_written: bool,
}

/// Takes records of all boxes in the order of their host times and gives lines of CSV.
#[derive(Clone, Debug)]
pub struct Transcript {
    scribes: Vec<Scribe>,
    items: Vec<Item>,
}

impl Transcript {
    /// A transcript for boxes whose files have these names (without ending).
    #[must_use]
    pub fn new(files: &[String], sensors: &[CalibratedSensor]) -> Self {
        let scribe = |file: &String| Scribe {
            file: file.clone(),
            assembler: Assembler::new(sensors.to_vec()),
            header_written: false,
        };
        Self { scribes: files.iter().map(scribe).collect(), items: Vec::new() }
    }

    /// What `events.csv` begins with.
    #[must_use]
    pub fn events_header() -> &'static str {
        EVENTS_HEADER
    }

    /// Takes a record of the box of this number and appends what comes of it to its rows and to the
    /// events. Returns the last row, if there was one.
    pub fn take(
        &mut self,
        number: usize,
        record: &Record,
        rows: &mut String,
        events: &mut String,
    ) -> Option<Row> {
        let scribe = self.scribes.get_mut(number)?;
        scribe.assembler.take(record, &mut self.items);
        // The columns are settled by the hello, without which no run begins.
        if record.what == Happening::Started && !scribe.header_written {
            scribe.header_written = true;
            rows.push_str(&rows_header(scribe.assembler.columns()));
        }
        self.write_items(number, rows, events)
    }

    /// Lets go of rows that still wait: after the last record.
    pub fn finish(&mut self, number: usize, rows: &mut String, events: &mut String) -> Option<Row> {
        let scribe = self.scribes.get_mut(number)?;
        scribe.assembler.finish(&mut self.items);
        self.write_items(number, rows, events)
    }

    fn write_items(&mut self, number: usize, rows: &mut String, events: &mut String) -> Option<Row> {
        let several = self.scribes.len() > 1;
        let scribe = self.scribes.get(number)?;
        let mut last = None;
        for item in self.items.drain(..) {
            match item {
                Item::Row(row) => {
                    push_row(&row, scribe.assembler.columns(), rows);
                    last = Some(row);
                }
                Item::Event(event) => push_event(&event, several.then_some(scribe.file.as_str()), events),
            }
        }
        last
    }

    /// The state machine of the box of this number.
    #[must_use]
    pub fn assembler(&self, number: usize) -> Option<&Assembler> {
        self.scribes.get(number).map(|scribe| &scribe.assembler)
    }
}
