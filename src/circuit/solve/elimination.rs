//! Gaussian elimination of one sparse pattern, repeated: the order is found once, then only the arithmetic is repeated.

use nalgebra::ComplexField;

/// A real or complex number.
pub(crate) trait Number: ComplexField<RealField = f64> + Copy {}

impl<T: ComplexField<RealField = f64> + Copy> Number for T {}

/// The matrix has no inverse, or none the fixed order of elimination can find.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Singular;

/// A pivot may be this much smaller than the largest entry of its column (chosen: sparse circuits' usual 1e-3).
const PIVOT_RATIO: f64 = 1e-3;

/// One pivot: the elements it is divided into and those subtracted then, as places in the matrix.
#[derive(Debug, Clone)]
struct Step {
    row: usize,
    column: usize,
    pivot: usize,
    /// Rows below with the place of their entry in the pivot's column.
    below: Vec<(usize, usize)>,
    /// Columns right of the pivot with the place of their entry in the pivot's row.
    right: Vec<(usize, usize)>,
    /// For each row below and column right: the place that changes.
    targets: Vec<usize>,
}

/// The order of elimination for one pattern.
#[derive(Debug, Clone)]
pub(crate) struct Elimination {
    steps: Vec<Step>,
}

impl Elimination {
    /// Finds an order for a matrix of `size` rows, each `stride` long, that keeps fill-in small (Markowitz's count) among
    /// the pivots that are large enough.
    ///
    /// # Errors
    /// [`Singular`] where no pivot is left.
    pub(crate) fn plan<T: Number>(
        matrix: &[T],
        mut pattern: Vec<bool>,
        size: usize,
        stride: usize,
    ) -> Result<Self, Singular> {
        let mut values = matrix.to_vec();
        let mut rows: Vec<usize> = (0..size).collect();
        let mut columns = rows.clone();
        let mut steps = Vec::with_capacity(size);
        while !rows.is_empty() {
            let (row, column) =
                choose(&values, &pattern, (&rows, &columns), stride).ok_or(Singular)?;
            rows.retain(|&r| r != row);
            columns.retain(|&c| c != column);
            let pivot = row * stride + column;
            let below: Vec<_> = rows
                .iter()
                .map(|&r| (r, r * stride + column))
                .filter(|&(_, place)| pattern[place])
                .collect();
            let right: Vec<_> = columns
                .iter()
                .map(|&c| (c, row * stride + c))
                .filter(|&(_, place)| pattern[place])
                .collect();
            let mut targets = Vec::with_capacity(below.len() * right.len());
            for &(r, factor) in &below {
                let ratio = values[factor] / values[pivot];
                for &(c, source) in &right {
                    let target = r * stride + c;
                    let less = ratio * values[source];
                    values[target] -= less;
                    pattern[target] = true;
                    targets.push(target);
                }
            }
            steps.push(Step {
                row,
                column,
                pivot,
                below,
                right,
                targets,
            });
        }
        Ok(Self { steps })
    }

    /// Factors a matrix of the planned pattern in place.
    ///
    /// # Errors
    /// [`Singular`] if a pivot vanished or is no number.
    pub(crate) fn factor<T: Number>(&self, matrix: &mut [T]) -> Result<(), Singular> {
        for step in &self.steps {
            let inverse = matrix[step.pivot].recip();
            if !inverse.is_finite() {
                return Err(Singular);
            }
            matrix[step.pivot] = inverse;
            let mut targets = step.targets.chunks_exact(step.right.len().max(1));
            for &(_, factor) in &step.below {
                let ratio = matrix[factor] * inverse;
                matrix[factor] = ratio;
                if let Some(targets) = targets.next() {
                    for (&target, &(_, source)) in targets.iter().zip(&step.right) {
                        let less = ratio * matrix[source];
                        matrix[target] -= less;
                    }
                }
            }
        }
        Ok(())
    }

    /// Solves with a factored matrix: `right_side` is used up, the answer is written to `into`.
    pub(crate) fn solve<T: Number>(&self, factored: &[T], right_side: &mut [T], into: &mut [T]) {
        for step in &self.steps {
            let value = right_side[step.row];
            for &(row, factor) in &step.below {
                let less = factored[factor] * value;
                right_side[row] -= less;
            }
        }
        for step in self.steps.iter().rev() {
            let mut value = right_side[step.row];
            for &(column, place) in &step.right {
                value -= factored[place] * into[column];
            }
            into[step.column] = value * factored[step.pivot];
        }
    }

    /// Solves with the transpose of a factored matrix: `right_side` is used up, the answer is written to `into`.
    pub(crate) fn solve_transposed<T: Number>(
        &self,
        factored: &[T],
        right_side: &mut [T],
        into: &mut [T],
    ) {
        for step in &self.steps {
            let value = right_side[step.column] * factored[step.pivot];
            for &(column, place) in &step.right {
                let less = factored[place] * value;
                right_side[column] -= less;
            }
            into[step.row] = value;
        }
        for step in self.steps.iter().rev() {
            let mut value = into[step.row];
            for &(row, factor) in &step.below {
                value -= factored[factor] * into[row];
            }
            into[step.row] = value;
        }
    }
}

/// Returns the pivot that can fill in the least among those large enough in their column.
fn choose<T: Number>(
    values: &[T],
    pattern: &[bool],
    (rows, columns): (&[usize], &[usize]),
    stride: usize,
) -> Option<(usize, usize)> {
    // Entries of each row, and of each column with their greatest size; rows and columns by their own number.
    let mut in_row = vec![0_usize; stride];
    let mut in_column = vec![(0_usize, 0.0_f64); stride];
    for &row in rows {
        let begin = row * stride;
        for &column in columns {
            if pattern[begin + column] {
                in_row[row] += 1;
                let (entries, largest) = &mut in_column[column];
                *entries += 1;
                *largest = largest.max(values[begin + column].modulus());
            }
        }
    }
    let mut best: Option<(usize, f64, (usize, usize))> = None;
    for &column in columns {
        let (entries, largest) = in_column[column];
        for &row in rows {
            let place = row * stride + column;
            if !pattern[place] {
                continue;
            }
            let count = (in_row[row] - 1) * (entries - 1);
            if best.is_some_and(|(least, ..)| count > least) {
                continue;
            }
            let size = values[place].modulus();
            if size <= 0.0 || size < PIVOT_RATIO * largest {
                continue;
            }
            let relative = size / largest;
            let better = best.is_none_or(|(least, most, _)| count < least || relative > most);
            if better {
                best = Some((count, relative, (row, column)));
            }
        }
    }
    best.map(|(_, _, pivot)| pivot)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: usize = 4;
    const STRIDE: usize = 5;

    /// An arrow with a zero on its diagonal, as a voltage source makes it; the last row and column are ground's.
    fn matrix(scale: f64) -> Vec<f64> {
        let rows = [
            [0.0, 1.0, 0.0, 0.0, 9.0],
            [1.0, 4.0 * scale, -1.0, -2.0, 9.0],
            [0.0, -1.0, 3.0, 0.0, 9.0],
            [0.0, -2.0, 0.0, 5.0 * scale, 9.0],
            [9.0, 9.0, 9.0, 9.0, 9.0],
        ];
        rows.concat()
    }

    fn pattern() -> Vec<bool> {
        matrix(1.0).iter().map(|v| v.abs() > 0.0).collect()
    }

    #[test]
    fn one_order_solves_every_matrix_of_its_pattern() {
        let order = Elimination::plan(&matrix(1.0), pattern(), SIZE, STRIDE).unwrap();
        for scale in [1.0, 0.3, -20.0] {
            let whole = matrix(scale);
            let expected = [1.5, -2.0, 0.25, 7.0];
            let mut right_side: Vec<f64> = (0..SIZE)
                .map(|r| (0..SIZE).map(|c| whole[r * STRIDE + c] * expected[c]).sum())
                .collect();
            let mut factored = whole.clone();
            order.factor(&mut factored).unwrap();
            let mut got = [0.0; SIZE];
            order.solve(&factored, &mut right_side, &mut got);
            for (got, expected) in got.iter().zip(expected) {
                assert!((got - expected).abs() < 1e-12, "{scale}: {got} {expected}");
            }
        }
    }

    #[test]
    fn the_transpose_is_solved_with_the_same_factors() {
        let whole = matrix(0.3);
        let order = Elimination::plan(&whole, pattern(), SIZE, STRIDE).unwrap();
        let expected = [1.5, -2.0, 0.25, 7.0];
        let mut right_side: Vec<f64> = (0..SIZE)
            .map(|c| (0..SIZE).map(|r| whole[r * STRIDE + c] * expected[r]).sum())
            .collect();
        let mut factored = whole;
        order.factor(&mut factored).unwrap();
        let mut got = [0.0; SIZE];
        order.solve_transposed(&factored, &mut right_side, &mut got);
        for (got, expected) in got.iter().zip(expected) {
            assert!((got - expected).abs() < 1e-12, "{got} {expected}");
        }
    }

    #[test]
    fn a_matrix_without_an_inverse_is_refused() {
        let mut flat = matrix(1.0);
        for column in 0..SIZE {
            flat[2 * STRIDE + column] = 0.0;
        }
        let order = Elimination::plan(&flat, pattern(), SIZE, STRIDE);
        assert_eq!(order.err(), Some(Singular));
    }
}
