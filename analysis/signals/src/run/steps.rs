//! The step from row to row.

/// Time from row to row: the mean of the steps that are near the median one, for the median alone carries the
/// rounding of the file. `None` for fewer than two rows.
#[must_use]
pub fn usual_step(t_s: &[f64]) -> Option<f64> {
    let mut steps: Vec<f64> = t_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
    if steps.is_empty() {
        return None;
    }
    let middle = steps.len() / 2;
    let (_, median, _) = steps.select_nth_unstable_by(middle, f64::total_cmp);
    let median = *median;
    let near: Vec<f64> = steps.into_iter().filter(|step| (step / median - 1.0).abs() < 0.5).collect();
    Some(near.iter().sum::<f64>() / near.len() as f64)
}
