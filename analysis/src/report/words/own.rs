//! The user's own columns, in their own units: told, and judged nowhere.

use super::counted;
use crate::summary::OwnFigures;
use ingest::plow::OwnColumn;

/// What stands over them.
pub const HEADING: &str = "your own columns in the working part, on which no verdict is built";

/// One of them in a line.
pub fn own_line(own: &OwnFigures) -> String {
    let OwnFigures { name, unit, mean, sd, least, most, rows, gaps, .. } = own;
    let (Some(mean), Some(least), Some(most)) = (mean, least, most) else {
        return format!("{name}: no reading");
    };
    let shown = |figure: f64| OwnColumn::shown(figure);
    let sd = sd.map(|sd| format!(", SD {}", shown(sd))).unwrap_or_default();
    let rows = counted(*rows, "row", "rows");
    let gaps = if *gaps == 0 { "no gaps".to_owned() } else { counted(*gaps, "gap", "gaps") };
    format!(
        "{name}: mean {}{sd}, {} to {} {unit} ({rows}, {gaps})",
        shown(*mean),
        shown(*least),
        shown(*most)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_column_is_told_in_one_line_whatever_it_lacks() {
        let own = OwnFigures {
            column: "own_engine_speed".to_owned(),
            name: "engine speed".to_owned(),
            unit: "1/min".to_owned(),
            mean: Some(1500.26),
            sd: Some(12.0),
            least: Some(1460.0),
            most: Some(1531.0),
            rows: 3000,
            gaps: 1,
            spectrum: None,
        };
        assert_eq!(own_line(&own), "engine speed: mean 1500.3, SD 12, 1460 to 1531 1/min (3000 rows, 1 gap)");
        let one = OwnFigures { sd: None, rows: 1, gaps: 0, ..own.clone() };
        assert_eq!(own_line(&one), "engine speed: mean 1500.3, 1460 to 1531 1/min (1 row, no gaps)");
        assert_eq!(own_line(&OwnFigures { mean: None, rows: 0, ..own }), "engine speed: no reading");
    }
}
