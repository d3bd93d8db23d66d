//! From millions of readings to as many as a chart can show: the lowest and the highest of each column of the
//! picture, so that no spike is lost (a plain "every n-th" would lose nearly all of them).

use super::chart_content::Trace;

/// A piece of a line without a gap: (time in s, value).
pub type Piece = Vec<(f64, f64)>;

/// Reduces traces to at most four points for each of `columns` equal columns of time between `from_s` and
/// `to_s`.
///
/// A new piece begins at each new trace and at each reading that is not finite; breaks narrower than a
/// column cannot be seen and are not kept. Readings outside the range are left out. Points keep their order
/// in time.
pub fn to_columns(traces: &[Trace], from_s: f64, to_s: f64, columns: usize) -> Vec<Piece> {
    let span_s = to_s - from_s;
    if !(span_s.is_finite() && span_s > 0.0) || columns == 0 {
        return Vec::new();
    }
    let mut pieces = Pieces::default();
    for trace in traces {
        pieces.broken = true;
        for (&t_s, &value) in trace.t_s.iter().zip(&trace.values) {
            if !(t_s.is_finite() && value.is_finite()) {
                pieces.broken = true;
            } else if (from_s..=to_s).contains(&t_s) {
                let column = ((t_s - from_s) / span_s * columns as f64) as usize;
                pieces.take(column, (t_s, value));
            }
        }
    }
    pieces.close_column();
    pieces.close_piece();
    pieces.done
}

/// First, lowest, highest and last reading of a column.
#[derive(Clone, Copy)]
struct Column {
    index: usize,
    first: (f64, f64),
    low: (f64, f64),
    high: (f64, f64),
    last: (f64, f64),
}

impl Column {
    fn points(self) -> impl Iterator<Item = (f64, f64)> {
        let (a, b) = if self.low.0 <= self.high.0 { (self.low, self.high) } else { (self.high, self.low) };
        let mut points = vec![self.first, a, b, self.last];
        points.dedup();
        points.into_iter()
    }
}

#[derive(Default)]
struct Pieces {
    done: Vec<Piece>,
    open: Piece,
    column: Option<Column>,
    broken: bool,
}

impl Pieces {
    fn take(&mut self, index: usize, point: (f64, f64)) {
        match &mut self.column {
            Some(column) if column.index == index => {
                if point.1 < column.low.1 {
                    column.low = point;
                }
                if point.1 > column.high.1 {
                    column.high = point;
                }
                column.last = point;
            }
            _ => {
                self.close_column();
                if self.broken {
                    self.close_piece();
                }
                self.column = Some(Column { index, first: point, low: point, high: point, last: point });
            }
        }
        self.broken = false;
    }

    fn close_column(&mut self) {
        if let Some(column) = self.column.take() {
            self.open.extend(column.points());
        }
    }

    fn close_piece(&mut self) {
        if !self.open.is_empty() {
            self.done.push(std::mem::take(&mut self.open));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn trace(points: &[(f64, f64)]) -> Trace {
        Trace { t_s: points.iter().map(|p| p.0).collect(), values: points.iter().map(|p| p.1).collect() }
    }

    #[test]
    fn a_single_spike_among_a_million_survives() {
        let mut values = vec![0.0; 1_000_000];
        values[654_321] = 9.0;
        let series = Trace { t_s: (0..1_000_000).map(|i| f64::from(i) * 1e-3).collect(), values };
        let pieces = to_columns(&[series], 0.0, 1000.0, 500);
        assert_eq!(pieces.len(), 1);
        assert!(pieces[0].len() <= 4 * 501);
        assert!(pieces[0].contains(&(654.321, 9.0)));
        assert!(pieces[0].windows(2).all(|w| w[0].0 <= w[1].0));
    }

    #[test]
    fn wide_gaps_and_nan_break_the_line_and_hair_gaps_do_not() {
        let first = trace(&[(0.0, 1.0), (1.0, 1.0), (2.0, f64::NAN), (3.0, 1.0)]);
        let second = trace(&[(3.01, 2.0), (9.0, 2.0)]);
        let pieces = to_columns(&[first, second], 0.0, 10.0, 10);
        assert_eq!(pieces.len(), 2, "{pieces:?}");
        assert_eq!(pieces[0], vec![(0.0, 1.0), (1.0, 1.0)]);
        assert_eq!(pieces[1], vec![(3.0, 1.0), (3.01, 2.0), (9.0, 2.0)]);
    }

    #[test]
    fn nothing_comes_of_nothing() {
        assert!(to_columns(&[], 0.0, 1.0, 10).is_empty());
        assert!(to_columns(&[trace(&[(1.0, 1.0)])], 1.0, 1.0, 10).is_empty());
        assert!(to_columns(&[trace(&[(1.0, 1.0)])], f64::NAN, 1.0, 10).is_empty());
    }
}
