//! Fewer readings for what is slow.

/// Means of blocks of readings that leave at least `kept_hz` of them a second, and their rate in Hz: for figures of what
/// happens far more slowly. Readings past the last whole block of a stretch are left out.
pub fn thinned(stretches: &[&[f64]], rate_hz: f64, kept_hz: f64) -> (Vec<Vec<f64>>, f64) {
    let block = ((rate_hz / kept_hz) as usize).max(1);
    let means = |values: &&[f64]| {
        let blocks = values.chunks_exact(block);
        blocks.map(|values| values.iter().sum::<f64>() / block as f64).collect()
    };
    (stretches.iter().map(means).collect(), rate_hz / block as f64)
}

/// Slices of what [`thinned`] gives.
pub fn slices(stretches: &[Vec<f64>]) -> Vec<&[f64]> {
    stretches.iter().map(Vec::as_slice).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fast_box_is_thinned_to_means_and_a_slow_one_left_alone() {
        let values: Vec<f64> = (0..23).map(f64::from).collect();
        assert_eq!(thinned(&[&values], 1000.0, 200.0), (vec![vec![2.0, 7.0, 12.0, 17.0]], 200.0));
        assert_eq!(
            thinned(&[&values, &values[..3]], 399.0, 200.0),
            (vec![values.clone(), values[..3].to_vec()], 399.0)
        );
    }
}
