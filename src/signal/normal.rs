//! Small symmetric systems: normal equations of a least-squares fit.

/// Cholesky factor of a positive definite matrix, with its determinant.
#[derive(Clone, Copy, Debug)]
pub(super) struct Factor<const N: usize> {
    lower: [[f64; N]; N],
    /// Natural logarithm of the determinant.
    pub(super) log_determinant: f64,
}

/// Factors a symmetric matrix, of which the lower triangle is used; none if it is not positive
/// definite.
pub(super) fn factor<const N: usize>(matrix: &[[f64; N]; N]) -> Option<Factor<N>> {
    let mut lower = [[0.0; N]; N];
    let mut log_determinant = 0.0;
    for i in 0..N {
        for j in 0..=i {
            let (row, other): (&[f64; N], &[f64; N]) = (&lower[i], &lower[j]);
            let known: f64 = row.iter().zip(other).take(j).map(|(a, b)| a * b).sum();
            let sum = matrix[i][j] - known;
            if i == j {
                if sum.is_nan() || sum <= 1e-14 * matrix[i][i] {
                    return None;
                }
                lower[i][i] = sum.sqrt();
                log_determinant += libm::log(sum);
            } else {
                lower[i][j] = sum / lower[j][j];
            }
        }
    }
    Some(Factor {
        lower,
        log_determinant,
    })
}

impl<const N: usize> Factor<N> {
    /// Solves for a right-hand side.
    pub(super) fn solve(&self, rhs: &[f64; N]) -> [f64; N] {
        let mut x = *rhs;
        for i in 0..N {
            for k in 0..i {
                x[i] -= self.lower[i][k] * x[k];
            }
            x[i] /= self.lower[i][i];
        }
        for i in (0..N).rev() {
            for k in i + 1..N {
                x[i] -= self.lower[k][i] * x[k];
            }
            x[i] /= self.lower[i][i];
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solves_what_it_was_made_from() {
        let matrix = [
            [4.0, 1.0, 0.5, 0.2],
            [1.0, 3.0, 0.3, 0.1],
            [0.5, 0.3, 2.0, 0.4],
            [0.2, 0.1, 0.4, 1.0],
        ];
        let x = [1.0, -2.0, 3.0, 0.5];
        let rhs = matrix.map(|row| row.iter().zip(&x).map(|(m, x)| m * x).sum());
        let solved = factor(&matrix).unwrap().solve(&rhs);
        for (got, wanted) in solved.iter().zip(&x) {
            assert!((got - wanted).abs() < 1e-12);
        }
        assert!(factor(&[[0.0; 4]; 4]).is_none());
        assert!(factor(&[[f64::NAN; 4]; 4]).is_none());
    }
}
