//! When the tail wheel was lifted.

use signals::Segment;

/// Under this share of its static value the tail load counts as lifted.
pub const LIFTED_SHARE_OF_STATIC: f64 = 0.05;

/// Stretches with the load under `threshold_n`, from and to in s; a stretch ends at a gap.
#[must_use]
pub fn lifted_stretches(
    load_n: &[f64],
    segments: &[Segment],
    rate_hz: f64,
    threshold_n: f64,
) -> Vec<(f64, f64)> {
    let mut stretches = Vec::new();
    for segment in segments {
        let Some(loads) = load_n.get(segment.rows.clone()) else { continue };
        let time = |row: usize| segment.start_s + row as f64 / rate_hz;
        let mut began = None;
        for (row, load) in loads.iter().enumerate() {
            match (began, *load < threshold_n) {
                (None, true) => began = Some(row),
                (Some(from), false) => {
                    stretches.push((time(from), time(row)));
                    began = None;
                }
                _ => {}
            }
        }
        if let Some(from) = began {
            stretches.push((time(from), time(loads.len())));
        }
    }
    stretches
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_begin_and_end_at_the_threshold_and_at_gaps() {
        let load = [5.0, 0.0, 0.0, 5.0, 0.0, 0.0, 0.0, 5.0];
        let segments = [Segment { start_s: 10.0, rows: 0..5 }, Segment { start_s: 20.0, rows: 5..8 }];
        let found = lifted_stretches(&load, &segments, 10.0, 1.0);
        assert_eq!(found.len(), 3, "{found:?}");
        for ((from, to), (expected_from, expected_to)) in
            found.iter().zip([(10.1, 10.3), (10.4, 10.5), (20.0, 20.2)])
        {
            assert!((from - expected_from).abs() < 1e-9 && (to - expected_to).abs() < 1e-9, "{found:?}");
        }
    }
}
