//! The lowest modes of A·x = λ·B·x for two symmetric positive matrices.

use nalgebra::{Cholesky, DMatrix, Dyn, Matrix3, OMatrix, U3};

use super::scene::RingError;

/// Most rounds. Chosen: the third mode beyond the first lies at λ some 20 times higher, so six settle a resonance.
const MOST_ROUNDS: u32 = 60;

/// Which modes are to settle: the change of each eigenvalue below which it counts as settled.
///
/// The lowest alone, the lowest two, or three of them. The third converges slowest, and is needed to fewer digits.
pub(super) const FIRST: &[f64] = &[1e-11];
pub(super) const TWO: &[f64] = &[1e-11, 1e-11];
pub(super) const THREE: &[f64] = &[1e-11, 1e-11, 1e-7];

/// The lowest modes.
#[derive(Debug)]
pub(super) struct Lowest {
    /// Their eigenvalues, rising; those that were not asked to settle are rough.
    pub(super) values: [f64; 3],
    /// The first one's vector, of any length.
    pub(super) vector: nalgebra::DVector<f64>,
}

/// Returns the lowest modes by inverse iteration on three vectors with a Rayleigh–Ritz step in each round.
///
/// Each round shrinks the error of mode j by λⱼ/λ₄ (Parlett, The Symmetric Eigenvalue Problem, chapter 14, from memory).
///
/// # Errors
/// [`RingError::Crowded`] if a matrix is not positive, [`RingError::NotSettled`] after 60 rounds.
pub(super) fn lowest(
    a: DMatrix<f64>,
    b: &DMatrix<f64>,
    settled: &[f64],
) -> Result<Lowest, RingError> {
    let size = a.nrows();
    if size <= FEW {
        return all(&a, b).ok_or(RingError::Crowded);
    }
    let cholesky = Cholesky::new(a).ok_or(RingError::Crowded)?;
    // The modes of an even line with its foot earthed.
    let mut vectors = OMatrix::<f64, Dyn, U3>::from_fn(size, |row, column| {
        let quarter_waves = (2 * column + 1) as f64;
        (quarter_waves * std::f64::consts::FRAC_PI_2 * (row as f64 + 0.5) / size as f64).cos()
    });
    let mut driven = b * &vectors;
    let mut before = [f64::INFINITY; 3];
    for _ in 0..MOST_ROUNDS {
        let solved = cholesky.solve(&driven);
        let drive = b * &solved;
        let stiffness: Matrix3<f64> = solved.tr_mul(&driven);
        let mass: Matrix3<f64> = solved.tr_mul(&drive);
        let (values, mixing) = small(stiffness, mass).ok_or(RingError::Crowded)?;
        vectors = solved * mixing;
        driven = drive * mixing;
        let is_settled = values
            .iter()
            .zip(before)
            .zip(settled)
            .all(|((now, before), limit)| (now / before - 1.0).abs() < *limit);
        if is_settled {
            return Ok(Lowest {
                values,
                vector: vectors.column(0).into_owned(),
            });
        }
        before = values;
    }
    Err(RingError::NotSettled {
        rounds: MOST_ROUNDS,
    })
}

/// Sizes up to which all modes are found at once. Chosen: of a few close turns the third and fourth mode lie so near each other
/// that no number of rounds separates them. Finding all modes costs less than some rounds.
const FEW: usize = 16;

/// Returns the lowest modes of a small problem, from all of them; infinite where it has fewer than three.
fn all(a: &DMatrix<f64>, b: &DMatrix<f64>) -> Option<Lowest> {
    Cholesky::new(a.clone())?;
    let inverse = Cholesky::new(b.clone())?.l().try_inverse()?;
    let eigen = (&inverse * a * inverse.transpose()).symmetric_eigen();
    let mut order: Vec<usize> = (0..eigen.eigenvalues.len()).collect();
    order.sort_by(|one, other| eigen.eigenvalues[*one].total_cmp(&eigen.eigenvalues[*other]));
    let value = |place: usize| {
        order
            .get(place)
            .map_or(f64::INFINITY, |index| eigen.eigenvalues[*index])
    };
    Some(Lowest {
        values: [value(0), value(1), value(2)],
        vector: inverse.transpose() * eigen.eigenvectors.column(*order.first()?),
    })
}

/// Returns the eigenvalues of a 3 × 3 problem and its vectors, the lowest first.
fn small(stiffness: Matrix3<f64>, mass: Matrix3<f64>) -> Option<([f64; 3], Matrix3<f64>)> {
    let lower = Cholesky::new(mass)?.l();
    let inverse = lower.try_inverse()?;
    let symmetric = inverse * stiffness * inverse.transpose();
    let eigen = symmetric.symmetric_eigen();
    let mut order = [0, 1, 2];
    order.sort_by(|one, other| eigen.eigenvalues[*one].total_cmp(&eigen.eigenvalues[*other]));
    let sorted =
        Matrix3::from_columns(&order.map(|index| eigen.eigenvectors.column(index).into_owned()));
    let values = order.map(|index| eigen.eigenvalues[index]);
    Some((values, inverse.transpose() * sorted))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An even line of `size` cells, foot earthed and top open, its elastance and inductance 1 per cell.
    fn line(size: usize) -> (DMatrix<f64>, DMatrix<f64>) {
        let a = DMatrix::from_fn(size, size, |row, column| {
            match (row.abs_diff(column), row + column) {
                (0, 0) => 1.0,
                (0, _) => 2.0,
                (1, _) => -1.0,
                _ => 0.0,
            }
        });
        let mut b = DMatrix::identity(size, size);
        b[(0, 0)] = 0.5;
        (a, b)
    }

    #[test]
    fn an_even_line_resonates_as_line_theory_says() {
        // f = 1/(4√LC) and three and five times that; the cells make it low by (π/2n)²/24.
        let (a, b) = line(200);
        let found = lowest(a, &b, THREE).unwrap();
        let quarter_wave = std::f64::consts::FRAC_PI_2 / 200.0;
        let [first, second, third] = found.values.map(f64::sqrt);
        assert!((first / quarter_wave - 1.0).abs() < 3e-6, "{first}");
        assert!((second / quarter_wave / 3.0 - 1.0).abs() < 3e-5, "{second}");
        assert!((third / quarter_wave / 5.0 - 1.0).abs() < 8e-5, "{third}");
    }

    #[test]
    fn what_is_no_positive_matrix_is_refused() {
        let (mut a, b) = line(8);
        a[(3, 3)] = -1.0;
        assert_eq!(lowest(a, &b, FIRST).unwrap_err(), RingError::Crowded);
        let nothing = DMatrix::from_element(8, 8, f64::NAN);
        assert_eq!(lowest(nothing, &b, FIRST).unwrap_err(), RingError::Crowded);
    }

    #[test]
    fn a_full_solution_finds_the_same_values() {
        let (a, b) = line(30);
        let inverse = Cholesky::new(b.clone()).unwrap().l().try_inverse().unwrap();
        let mut all: Vec<f64> = (&inverse * &a * inverse.transpose())
            .symmetric_eigenvalues()
            .iter()
            .copied()
            .collect();
        all.sort_by(f64::total_cmp);
        let found = lowest(a.clone(), &b, THREE).unwrap().values;
        assert!((found[0] / all[0] - 1.0).abs() < 1e-9);
        assert!((found[1] / all[1] - 1.0).abs() < 1e-9);
        assert!((found[2] / all[2] - 1.0).abs() < 1e-6);
        let alone = lowest(a, &b, FIRST).unwrap().values;
        assert!((alone[0] / all[0] - 1.0).abs() < 1e-11);
    }
}
