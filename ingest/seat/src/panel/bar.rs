//! Bars, the strip of the last seconds and the scale of the balance, as rows of signs.

use crate::live::StripPoint;

/// The signs of one column of the strip, from the top down, and whether the load lifted in it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Column {
    pub cells: Vec<Cell>,
    pub lifted: bool,
}

/// One place in a bar or strip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Cell {
    /// Nothing.
    Empty,
    /// Filled.
    Full,
    /// Filled up to so many eighths of its height, 1 to 7.
    Eighths(u8),
    /// Filled for a part of the time.
    Part,
    /// Within the lifted zone, and empty.
    Zone,
}

/// Cells of a bar `width` long that a load fills, out of `scale`; a load above 0 fills one at least, so that what is in
/// the air and what hardly carries are told apart.
pub(super) fn filled(load: f64, scale: f64, width: usize) -> usize {
    let share = (load / scale).clamp(0.0, 1.0);
    let cells = (share * width as f64).round() as usize;
    if load > 0.0 { cells.max(1).min(width) } else { 0 }
}

/// Cells of the lifted zone: all that it reaches into.
pub(super) fn zone(under: f64, scale: f64, width: usize) -> usize {
    ((under / scale).clamp(0.0, 1.0) * width as f64).ceil() as usize
}

/// A bar of a load with its lifted zone.
pub(super) fn bar(load: Option<f64>, under: Option<f64>, scale: f64, width: usize) -> Vec<Cell> {
    let filled = load.map_or(0, |load| filled(load, scale, width));
    let zone = under.map_or(0, |under| zone(under, scale, width));
    (0..width)
        .map(|place| match place {
            _ if place < filled => Cell::Full,
            _ if place < zone => Cell::Zone,
            _ => Cell::Empty,
        })
        .collect()
}

/// The last `over_s` before `now_s` in `width` columns of `height` cells: full up to the least load of a column's time, in
/// part up to the greatest.
pub(super) fn strip(
    points: &[StripPoint],
    (now_s, over_s): (f64, f64),
    (scale, under): (f64, Option<f64>),
    (width, height): (usize, usize),
) -> Vec<Column> {
    let mut ranges: Vec<Option<(f64, f64)>> = vec![None; width];
    for point in points {
        let Some(load) = point.load_n else { continue };
        let place = (point.t_s - (now_s - over_s)) / over_s * width as f64;
        // The newest point is on the right edge.
        let place = if place >= width as f64 && point.t_s <= now_s { width as f64 - 1.0 } else { place };
        if place < 0.0 {
            continue;
        }
        let Some(range) = ranges.get_mut(place as usize) else { continue };
        *range = Some(range.map_or((load, load), |(low, high)| (low.min(load), high.max(load))));
    }
    let column = |range: &Option<(f64, f64)>| {
        let Some((low, high)) = *range else {
            return Column { cells: vec![Cell::Empty; height], lifted: false };
        };
        let (full, part) = (filled(low, scale, 8 * height), filled(high, scale, 8 * height).div_ceil(8));
        let cell = |from_top: usize| match height - 1 - from_top {
            up if 8 * (up + 1) <= full => Cell::Full,
            up if 8 * up < full => Cell::Eighths((full - 8 * up) as u8),
            up if up < part => Cell::Part,
            _ => Cell::Empty,
        };
        Column { cells: (0..height).map(cell).collect(), lifted: under.is_some_and(|under| low < under) }
    };
    ranges.iter().map(column).collect()
}

/// Place of a balance index on a scale from −1 (left) to +1 of `width` cells.
pub(super) fn place(index: f64, width: usize) -> usize {
    let last = width.saturating_sub(1);
    (((index.clamp(-1.0, 1.0) + 1.0) / 2.0 * last as f64).round() as usize).min(last)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_zone_is_where_the_load_counts_as_lifted() {
        // 40 of 1600 N in 64 cells: under 1.6 cells, so two.
        let cells = bar(Some(800.0), Some(40.0), 1600.0, 64);
        assert_eq!(cells.iter().filter(|cell| **cell == Cell::Full).count(), 32);
        let empty = bar(Some(0.0), Some(40.0), 1600.0, 64);
        assert_eq!(empty[..3], [Cell::Zone, Cell::Zone, Cell::Empty]);
        assert_eq!(bar(Some(1.0), Some(40.0), 1600.0, 64)[..3], [Cell::Full, Cell::Zone, Cell::Empty]);
        assert_eq!(bar(None, None, 1600.0, 4), [Cell::Empty; 4]);
        assert_eq!(
            bar(Some(9e9), None, 1600.0, 4),
            [Cell::Full; 4],
            "beyond its end it stays within the bar"
        );
    }

    #[test]
    fn a_short_lift_shows_in_its_column() {
        let point = |t_s: f64, load: f64| StripPoint { t_s, load_n: Some(load), depth_mm: None };
        let points: Vec<StripPoint> = (0..1000)
            .map(|n| point(100.0 + f64::from(n) * 0.02, if n == 500 { 0.0 } else { 800.0 }))
            .collect();
        let columns = strip(&points, (120.0, 20.0), (1600.0, Some(40.0)), (40, 4));
        let lifted: Vec<usize> = (0..40).filter(|place| columns[*place].lifted).collect();
        assert_eq!(lifted, [20], "ten of twenty seconds ago");
        assert_eq!(columns[20].cells, [Cell::Empty, Cell::Empty, Cell::Part, Cell::Part]);
        assert_eq!(columns[5].cells, [Cell::Empty, Cell::Empty, Cell::Full, Cell::Full]);
        // 150 of 1600 N in four cells of eight eighths: three eighths of the lowest.
        let low = strip(&[point(119.9, 150.0)], (120.0, 20.0), (1600.0, None), (40, 4));
        assert_eq!(low[39].cells, [Cell::Empty, Cell::Empty, Cell::Empty, Cell::Eighths(3)]);
        let late = strip(&points, (130.0, 20.0), (1600.0, Some(40.0)), (40, 4));
        assert_eq!(late[39].cells, [Cell::Empty; 4], "what has not come is not drawn");
    }

    #[test]
    fn the_steady_point_is_in_the_middle() {
        assert_eq!([-1.0, 0.0, 1.0, 7.0].map(|b| place(b, 41)), [0, 20, 40, 40]);
        assert_eq!(place(0.5, 0), 0);
    }
}
