//! What a world leaves, kept to be read.

use std::io;
use std::path::Path;

use firmware_protocol::{Event, Frame, PortDecoder};
use ingest::wire_file::{Record, WireEvent, WireReader};

use super::world::Left;
use crate::world::lines_of;

impl Left {
    /// Writes the files of each run into a folder, the raw bytes as text too, and the rows of each box beside them.
    pub fn keep(&self, folder: &Path) -> io::Result<()> {
        for (number, run) in self.runs.iter().enumerate() {
            let folder = folder.join(format!("run{number}"));
            std::fs::create_dir_all(&folder)?;
            for (name, content) in &run.files {
                if name.ends_with(".wire") {
                    let lines: String = WireReader::new(content).map(|record| line_of(&record)).collect();
                    std::fs::write(folder.join(format!("{name}.txt")), lines)?;
                }
                std::fs::write(folder.join(name), content)?;
            }
        }
        for (number, known) in self.known.iter().enumerate() {
            std::fs::write(folder.join(format!("truth{number}.csv")), lines_of(known))?;
        }
        Ok(())
    }
}

fn line_of(record: &Record) -> String {
    let said = match &record.what {
        WireEvent::Received(bytes) | WireEvent::Known(bytes) => {
            let what = if matches!(record.what, WireEvent::Known(_)) { "known" } else { "came" };
            format!("{what} {} bytes: {}", bytes.len(), said_in(bytes))
        }
        other => format!("{other:?}"),
    };
    format!("{:.6} {said}\n", record.host_us as f64 / 1e6)
}

fn said_in(mut bytes: &[u8]) -> String {
    if bytes.first() == Some(&b'$') {
        return String::from_utf8_lossy(bytes).trim_end().replace("\r\n", " ");
    }
    let mut decoder = PortDecoder::new();
    let mut said = Vec::new();
    while let Some(event) = decoder.next_event(&mut bytes) {
        said.push(match event {
            Event::Frame(Frame::Readings(rows)) => {
                format!("rows {}+{} clock {}", rows.first_row, rows.row_count(), rows.clock_us)
            }
            Event::Frame(Frame::Hello(hello)) => format!("hello of boot {}", hello.boot),
            other => format!("{other:?}"),
        });
    }
    said.join("; ")
}
