//! Which inputs b's spread comes from.

use super::draw::Draw;
use super::inputs::Input;
use serde::Serialize;

/// Draws that are looked at: the standard error of a correlation of 2,000 pairs is 0.02.
const RANKED_DRAWS_MAX: usize = 2_000;

/// Shares below this are noise of the draws.
const SHARE_MIN: f64 = 0.01;

/// How much of the spread goes with an input.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct InputShare {
    /// Which input.
    pub input: Input,
    /// Squared rank correlation (Spearman) with the figure over the kept draws, 0 to 1. Soil slope and soil
    /// height hang together by the measured tail load, so the shares need not add up to 1.
    pub share: f64,
}

/// Inputs by how much of the spread of `figure` goes with them, the largest first; those under 1 % are left
/// out.
pub fn ranking(draws: &[Draw], figure: impl Fn(&Draw) -> f64) -> Vec<InputShare> {
    let looked_at = draws.get(..draws.len().min(RANKED_DRAWS_MAX)).unwrap_or(draws);
    let of_figure = ranks(&looked_at.iter().map(figure).collect::<Vec<_>>());
    let mut shares: Vec<InputShare> = Input::ALL
        .into_iter()
        .map(|input| {
            let of_input = ranks(&looked_at.iter().map(|draw| draw.inputs[input]).collect::<Vec<_>>());
            InputShare { input, share: correlation(&of_input, &of_figure).powi(2) }
        })
        .filter(|share| share.share >= SHARE_MIN)
        .collect();
    // With the drawbar's inclination measured, the tractor's pin is where that has it.
    if shares.iter().any(|share| share.input == Input::DrawbarAngle) {
        shares.retain(|share| share.input != Input::TractorHoleHeight);
    }
    shares.sort_by(|a, b| b.share.total_cmp(&a.share));
    shares
}

/// Rank of each value, from 0; equal values share the mean of their ranks.
fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<(usize, f64)> = values.iter().copied().enumerate().collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut ranks = vec![0.0; values.len()];
    let mut first = 0;
    for run in order.chunk_by(|a, b| a.1 == b.1) {
        let mean = first as f64 + (run.len() - 1) as f64 / 2.0;
        for (place, _) in run {
            if let Some(rank) = ranks.get_mut(*place) {
                *rank = mean;
            }
        }
        first += run.len();
    }
    ranks
}

/// Pearson's correlation; 0 if either list is constant.
fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len().max(1) as f64;
    let (mean_a, mean_b) = (mean(a), mean(b));
    let sum = |f: fn(f64, f64) -> f64| a.iter().zip(b).map(|(x, y)| f(x - mean_a, y - mean_b)).sum::<f64>();
    let scale = (sum(|x, _| x * x) * sum(|_, y| y * y)).sqrt();
    if scale > 0.0 { sum(|x, y| x * y) / scale } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_values_share_a_rank() {
        assert_eq!(ranks(&[5.0, 1.0, 5.0, 0.0]), vec![2.5, 1.0, 2.5, 0.0]);
    }

    #[test]
    fn a_constant_goes_with_nothing_and_a_rising_function_with_everything() {
        let x = ranks(&[0.1, 3.0, 2.0, 7.0]);
        let y = ranks(&[(0.1f64).exp(), (3.0f64).exp(), (2.0f64).exp(), (7.0f64).exp()]);
        assert!((correlation(&x, &y) - 1.0).abs() < 1e-12);
        assert_eq!(correlation(&ranks(&[4.0; 4]), &y), 0.0);
    }
}
