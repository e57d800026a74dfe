//! Gaussian elimination of one sparse pattern over and over: the order is found once, then only the arithmetic is repeated.

/// The matrix has no inverse, or none the fixed order of elimination can find.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Singular;

/// A pivot may be this much smaller than the largest entry of its column (chosen: sparse circuits' usual 1e-3).
const PIVOT_RATIO: f64 = 1e-3;

/// One pivot: what it is divided into and what is subtracted then, as places in the matrix.
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
pub(super) struct Elimination {
    steps: Vec<Step>,
}

impl Elimination {
    /// Finds an order for a matrix of `size` rows, each `stride` long, that keeps fill-in small (Markowitz's count) among
    /// the pivots that are large enough.
    ///
    /// # Errors
    /// [`Singular`] where no pivot is left.
    pub(super) fn plan(
        matrix: &[f64],
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
                    values[target] -= ratio * values[source];
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
    pub(super) fn factor(&self, matrix: &mut [f64]) -> Result<(), Singular> {
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
                        matrix[target] -= ratio * matrix[source];
                    }
                }
            }
        }
        Ok(())
    }

    /// Solves with a factored matrix: `right_side` is used up, the answer is written to `into`.
    pub(super) fn solve(&self, factored: &[f64], right_side: &mut [f64], into: &mut [f64]) {
        for step in &self.steps {
            let value = right_side[step.row];
            for &(row, factor) in &step.below {
                right_side[row] -= factored[factor] * value;
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
}

/// The pivot that can fill in the least among those large enough in their column.
fn choose(
    values: &[f64],
    pattern: &[bool],
    (rows, columns): (&[usize], &[usize]),
    stride: usize,
) -> Option<(usize, usize)> {
    let in_row = |row: usize| {
        columns
            .iter()
            .filter(|&&c| pattern[row * stride + c])
            .count()
    };
    let row_counts: Vec<usize> = rows.iter().map(|&row| in_row(row)).collect();
    let mut best: Option<(usize, f64, (usize, usize))> = None;
    for &column in columns {
        let place = |row: usize| row * stride + column;
        let entries = rows.iter().filter(|&&r| pattern[place(r)]).count();
        let largest = rows
            .iter()
            .map(|&r| values[place(r)].abs())
            .fold(0.0, f64::max);
        for (&row, &row_count) in rows.iter().zip(&row_counts) {
            let size = values[place(row)].abs();
            if !pattern[place(row)] || size <= 0.0 || size < PIVOT_RATIO * largest {
                continue;
            }
            let count = (row_count - 1) * (entries - 1);
            let relative = size / largest;
            let better = best.is_none_or(|(least, most, _)| {
                count < least || (count == least && relative > most)
            });
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
    fn a_matrix_without_an_inverse_is_refused() {
        let mut flat = matrix(1.0);
        for column in 0..SIZE {
            flat[2 * STRIDE + column] = 0.0;
        }
        let order = Elimination::plan(&flat, pattern(), SIZE, STRIDE);
        assert_eq!(order.err(), Some(Singular));
    }
}
