//! One table of a run against what the raw bytes give: which of its lines are whole, and which of the two stands.

use crate::csv_text::{EVENTS_HEADER, read_events};
use crate::plow::OWN_PREFIX;

/// What a table holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Lines {
    /// Numbers under a header that begins with a rising `t_s`.
    Rows,
    /// Events.
    Events,
}

impl Lines {
    /// The lines from the first that are whole; a torn line, or a block of zero bytes, ends them.
    pub(super) fn whole_part(self, bytes: &[u8]) -> &[u8] {
        // Of each column, whether its cells may be empty.
        let mut columns = Vec::new();
        let mut before_s = f64::NEG_INFINITY;
        let mut end = 0;
        for (number, line) in bytes.split_inclusive(|byte| *byte == b'\n').enumerate() {
            let text = line.strip_suffix(b"\n").and_then(|line| std::str::from_utf8(line).ok());
            let Some(text) = text else { break };
            let is_whole = match (number, self) {
                (0, Self::Rows) => {
                    columns = text.split(',').map(|name| name.starts_with(OWN_PREFIX)).collect();
                    text.starts_with("t_s,")
                }
                (0, Self::Events) => text == EVENTS_HEADER.trim_end(),
                (_, Self::Rows) => time_of_row(text, &columns).is_some_and(|t_s| {
                    let rises = t_s > before_s;
                    before_s = t_s;
                    rises
                }),
                // The reader takes the first line for the header.
                (_, Self::Events) => read_events(&format!("\n{text}\n")).1.is_empty(),
            };
            if !is_whole {
                break;
            }
            end += line.len();
        }
        bytes.get(..end).unwrap_or_default()
    }

    /// Whether `longer` holds all that `shorter` does. Of events, which several boxes write, others may stand
    /// between.
    fn goes_on(self, shorter: &[u8], longer: &[u8]) -> bool {
        match self {
            Self::Rows => longer.starts_with(shorter),
            Self::Events => {
                let mut lines = longer.split_inclusive(|byte| *byte == b'\n');
                shorter.split_inclusive(|byte| *byte == b'\n').all(|line| lines.any(|other| other == line))
            }
        }
    }
}

/// Time of a row of finite numbers, in s; where a column's cells may be empty, there may be none.
fn time_of_row(text: &str, may_be_empty: &[bool]) -> Option<f64> {
    let fields: Vec<&str> = text.trim_end_matches('\r').split(',').collect();
    let is_finite = |field: &str| field.parse::<f64>().is_ok_and(f64::is_finite);
    let is_cell =
        |(field, may_be_empty): (&&str, &bool)| is_finite(field) || (*may_be_empty && field.is_empty());
    let is_row = fields.len() == may_be_empty.len() && fields.iter().zip(may_be_empty).all(is_cell);
    fields.first().filter(|_| is_row)?.parse().ok()
}

/// Which of the two stands, and so what becomes of the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stands {
    /// What the raw bytes give: all that was in the file, and perhaps more.
    Wire,
    /// What the raw bytes give, though the file holds something else.
    WireInstead,
    /// The whole lines of the file: the raw bytes are damaged or end before them.
    File,
}

/// Holds the whole lines of a file against what the raw bytes give, of which the first `settled` bytes are certain.
/// Raw bytes that are `closed` give everything that ever came.
pub(super) fn stands(lines: Lines, whole: &[u8], wire: &[u8], settled: usize, closed: bool) -> Stands {
    let settled = wire.get(..settled).unwrap_or(wire);
    if lines.goes_on(whole, wire) {
        Stands::Wire
    } else if !closed && lines.goes_on(settled, whole) {
        Stands::File
    } else {
        Stands::WireInstead
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_lines_end_at_the_first_that_is_none() {
        let rows = "t_s,pull_n\n0.000000,1.00\n0.010000,2.00\n";
        for tail in ["", "0.02", "0.020000,3.00", "0.020000\n", "0.010000,3.00\n", "0.02,x\n", "0.02,inf\n"] {
            let text = format!("{rows}{tail}");
            assert_eq!(Lines::Rows.whole_part(text.as_bytes()), rows.as_bytes(), "{tail:?}");
        }
        let mut zeros = rows.as_bytes().to_vec();
        zeros.extend([0; 600]);
        zeros.extend(b"\n0.030000,4.00\n");
        assert_eq!(Lines::Rows.whole_part(&zeros), rows.as_bytes());
        assert_eq!(Lines::Rows.whole_part(b"\0\0\0\0"), b"");
        let own = "t_s,pull_n,own_x\n0.000000,1.00,\n0.010000,2.00,7\n";
        for tail in
            ["0.020000,,7\n", "0.020000,2.00\n", "0.020000,2.00,x\n", "0.020000,2.00,NaN\n", ",2.00,7\n"]
        {
            assert_eq!(Lines::Rows.whole_part(format!("{own}{tail}").as_bytes()), own.as_bytes(), "{tail:?}");
        }
        let events = "t_s,kind,detail\n0.100000,mark,number=1; by=host\n";
        for tail in ["", "0.2", "0.200000,mark,x", "0.200000,no-such,x\n", "\0\0\n"] {
            let text = format!("{events}{tail}");
            assert_eq!(Lines::Events.whole_part(text.as_bytes()), events.as_bytes(), "{tail:?}");
        }
    }

    #[test]
    fn the_raw_bytes_stand_unless_the_file_goes_on_where_they_end() {
        let three = b"t_s,a\n0,1\n1,2\n2,3\n";
        let (two, other) = (&three[..14], b"t_s,a\n0,1\n1,9\n");
        let rows = |whole: &[u8], wire: &[u8], closed| stands(Lines::Rows, whole, wire, wire.len(), closed);
        assert_eq!(rows(two, three, true), Stands::Wire);
        assert_eq!(rows(three, three, true), Stands::Wire);
        assert_eq!(rows(b"", three, false), Stands::Wire);
        assert_eq!(rows(three, two, false), Stands::File);
        assert_eq!(rows(three, b"", false), Stands::File);
        assert_eq!(rows(three, two, true), Stands::WireInstead);
        assert_eq!(rows(other, three, false), Stands::WireInstead);
        // What was let go at the end of damaged raw bytes was not placed as it would have been.
        assert_eq!(stands(Lines::Rows, three, other, 10, false), Stands::File);
        // Events of one box whose raw bytes end are missing between those of the other.
        assert_eq!(stands(Lines::Events, b"h\na\nb\nc\n", b"h\na\nc\n", 6, false), Stands::File);
    }
}
