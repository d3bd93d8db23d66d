//! What the virtual box knows: every row it sampled, and what became of it.

use std::path::Path;

use crate::{Doing, Failure, Outcome};

/// What became of a row, by the box.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    /// It went onto the line whole, once or twice.
    Sent,
    /// It was damaged, dropped, or nobody could have got it.
    Lost,
}

/// A row that the box sampled.
#[derive(Clone, Debug, PartialEq)]
pub struct TrueRow {
    pub boot: u32,
    pub number: u32,
    pub fate: Fate,
    /// When it was sampled, in s of the pass.
    pub t_s: f64,
    /// When that was by the monotonic clock of the machine, in s.
    pub host_s: f64,
    /// Raw counts, one a channel.
    pub counts: Vec<i32>,
}

/// The truth file of one box.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// Names of the channels, in the order of the counts, as in the file's header (`-` written as `_`).
    pub channels: Vec<String>,
    /// All rows in the order of their sampling.
    pub rows: Vec<TrueRow>,
}

/// Reads the truth file of a virtual box. A last line that is not ended is left out: the box was killed.
pub fn read_truth(path: &Path) -> Outcome<Truth> {
    let text = std::fs::read_to_string(path).doing(|| format!("read {}", path.display()))?;
    truth_of(&text).map_err(|why| Failure(format!("{}: {why}", path.display())))
}

fn truth_of(text: &str) -> Result<Truth, String> {
    let whole = text.rsplit_once('\n').map_or("", |(whole, _)| whole);
    let mut lines = whole.split('\n');
    let header: Vec<&str> = lines.next().unwrap_or_default().split(',').collect();
    if !header.starts_with(&["boot", "row", "clock_us", "fate"]) {
        return Err(format!("line 1: not a truth file: {header:?}"));
    }
    let time_at = header.iter().position(|name| *name == "t_s").ok_or("line 1: no t_s")?;
    if header.last() != Some(&"host_s") {
        return Err("line 1: no host_s".to_owned());
    }
    let channels: Option<Vec<String>> = header
        .get(4..time_at)
        .map(|names| names.iter().filter_map(|n| n.strip_suffix("_count")).map(str::to_owned).collect());
    let channels = channels.filter(|names| names.len() == time_at - 4).ok_or("line 1: columns of counts")?;
    let mut rows = Vec::new();
    for (number, line) in (2..).zip(lines) {
        let cells: Vec<&str> = line.split(',').collect();
        let row = row_of(&cells, time_at).ok_or_else(|| format!("line {number}: {line:?}"))?;
        rows.push(row);
    }
    Ok(Truth { channels, rows })
}

fn row_of(cells: &[&str], time_at: usize) -> Option<TrueRow> {
    let fate = match *cells.get(3)? {
        "sent" | "doubled" => Fate::Sent,
        "damaged" | "dropped" | "unplugged" | "nobody" | "reset" => Fate::Lost,
        _ => return None,
    };
    Some(TrueRow {
        boot: cells.first()?.parse().ok()?,
        number: cells.get(1)?.parse().ok()?,
        fate,
        t_s: cells.get(time_at)?.parse().ok()?,
        host_s: cells.last()?.parse().ok()?,
        counts: cells.get(4..time_at)?.iter().map(|cell| cell.parse().ok()).collect::<Option<_>>()?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    const HEADER: &str =
        "boot,row,clock_us,fate,pull_count,front_load_count,t_s,true_pull_n,true_front_load_n,host_s\n";

    #[test]
    fn rows_are_read_and_a_torn_last_line_is_left_out() {
        let text = format!("{HEADER}1,0,5000,sent,12,-3,0.005,1.0,2.0,9.5\n1,1,10000,dropped,13,-4,0.01");
        let truth = truth_of(&text).unwrap();
        assert_eq!(truth.channels, ["pull", "front_load"]);
        assert_eq!(truth.rows.len(), 1);
        assert_eq!((truth.rows[0].fate, &truth.rows[0].counts[..]), (Fate::Sent, &[12, -3][..]));
    }

    #[test]
    fn an_unknown_fate_is_no_row() {
        assert!(truth_of(&format!("{HEADER}1,0,5000,eaten,12,-3,0.005,1.0,2.0,9.5\n")).is_err());
        assert!(truth_of("t_s,pull_n\n").is_err());
    }
}
