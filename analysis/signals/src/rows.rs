//! Ranges of rows.

use std::ops::Range;

/// Stretches of rows without a step longer than `gap_s`.
pub(super) fn pieces(t_s: &[f64], gap_s: f64) -> Vec<Range<usize>> {
    let mut pieces = Vec::new();
    let mut start = 0;
    for (index, pair) in t_s.windows(2).enumerate() {
        if pair[1] - pair[0] > gap_s {
            pieces.push(start..index + 1);
            start = index + 1;
        }
    }
    pieces.push(start..t_s.len());
    pieces
}

/// The rows that are in both; each list is in order.
pub(super) fn common(one: &[Range<usize>], other: &[Range<usize>]) -> Vec<Range<usize>> {
    let (mut one, mut other) = (one.iter().peekable(), other.iter().peekable());
    let mut both = Vec::new();
    while let (Some(a), Some(b)) = (one.peek(), other.peek()) {
        let range = a.start.max(b.start)..a.end.min(b.end);
        let a_ends_first = a.end < b.end;
        if !range.is_empty() {
            both.push(range);
        }
        if a_ends_first {
            one.next()
        } else {
            other.next()
        };
    }
    both
}
