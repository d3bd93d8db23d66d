//! Cholesky's factor of a small symmetric matrix.

/// Lower triangular factor of a positive definite matrix.
pub(super) struct Cholesky(Vec<Vec<f64>>);

impl Cholesky {
    /// `None` where the matrix is not positive definite.
    pub fn of(matrix: &[Vec<f64>]) -> Option<Self> {
        let n = matrix.len();
        let mut lower = vec![vec![0.0; n]; n];
        for i in 0..n {
            for j in 0..=i {
                let done: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
                let rest = matrix[i][j] - done;
                if i == j {
                    if !(rest.is_finite() && rest > 0.0) {
                        return None;
                    }
                    lower[i][j] = rest.sqrt();
                } else {
                    lower[i][j] = rest / lower[j][j];
                }
            }
        }
        Some(Self(lower))
    }

    /// x with A x = `right`.
    pub fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut x = right.to_vec();
        for i in 0..x.len() {
            let done: f64 = (0..i).map(|k| self.0[i][k] * x[k]).sum();
            x[i] = (x[i] - done) / self.0[i][i];
        }
        self.back(x)
    }

    /// x with Lᵀ x = `y`: of independent unit normal `y`, x has the covariance A⁻¹.
    pub fn back(&self, y: Vec<f64>) -> Vec<f64> {
        let mut x = y;
        for i in (0..x.len()).rev() {
            let done: f64 = (i + 1..x.len()).map(|k| self.0[k][i] * x[k]).sum();
            x[i] = (x[i] - done) / self.0[i][i];
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_solution_solves_and_an_indefinite_matrix_is_refused() {
        let matrix = vec![vec![4.0, 1.0, 0.5], vec![1.0, 3.0, -0.2], vec![0.5, -0.2, 2.0]];
        let x = Cholesky::of(&matrix).unwrap().solve(&[1.0, 2.0, 3.0]);
        for (row, right) in matrix.iter().zip([1.0, 2.0, 3.0]) {
            let left: f64 = row.iter().zip(&x).map(|(a, x)| a * x).sum();
            assert!((left - right).abs() < 1e-12);
        }
        assert!(Cholesky::of(&[vec![1.0, 2.0], vec![2.0, 1.0]]).is_none());
    }
}
