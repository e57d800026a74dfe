//! The pairs of a row of rings, looked up where many of them are alike.

use nalgebra::DMatrix;

use super::kernel::{Pair, Ring};

/// Each ring with each other, or with each other's image.
#[derive(Debug)]
pub(super) enum Pairs {
    /// Rings of one radius at equal steps: a pair depends on how far apart its places are. From one step on.
    ByDistance(Vec<Pair>),
    /// The same with images: a pair depends on the sum of its places.
    BySum(Vec<Pair>),
    /// Any rings, and those they are paired with.
    Any(Vec<Ring>, Vec<Ring>),
}

impl Pairs {
    /// Returns the rings of a row with each other; `is_cylinder` if they have one radius and equal steps.
    pub(super) fn direct(rings: &[Ring], is_cylinder: bool) -> Self {
        match rings {
            [first, others @ ..] if is_cylinder => {
                Self::ByDistance(others.iter().map(|ring| Pair::of(*first, *ring)).collect())
            }
            _ => Self::Any(rings.to_vec(), rings.to_vec()),
        }
    }

    /// Returns the rings of a row with their images in a plane at a height.
    pub(super) fn image(rings: &[Ring], plane_m: f64, is_cylinder: bool) -> Self {
        match rings {
            [first, second, ..] if is_cylinder => {
                let step_m = second.height_m - first.height_m;
                let image = first.mirrored(plane_m);
                let at = |steps: usize| Ring {
                    height_m: first.height_m + steps as f64 * step_m,
                    ..*first
                };
                let sums = 0..2 * rings.len() - 1;
                Self::BySum(sums.map(|steps| Pair::of(image, at(steps))).collect())
            }
            _ => {
                let images = rings.iter().map(|ring| ring.mirrored(plane_m)).collect();
                Self::Any(rings.to_vec(), images)
            }
        }
    }

    /// Returns the pair at two places of the row, which differ unless images are meant.
    pub(super) fn at(&self, row: usize, column: usize) -> Pair {
        match self {
            Self::ByDistance(table) => table[row.abs_diff(column) - 1],
            Self::BySum(table) => table[row + column],
            Self::Any(rings, others) => Pair::of(rings[row], others[column]),
        }
    }
}

/// Returns a symmetric matrix from its lower half.
pub(super) fn symmetric(size: usize, value: impl Fn(usize, usize) -> f64) -> DMatrix<f64> {
    let mut matrix = DMatrix::zeros(size, size);
    for column in 0..size {
        for row in column..size {
            let value = value(row, column);
            matrix[(row, column)] = value;
            matrix[(column, row)] = value;
        }
    }
    matrix
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tables_of_a_cylinder_give_what_each_pair_gives() {
        let rings: Vec<Ring> = (0..7)
            .map(|index| Ring {
                radius_m: 0.008,
                height_m: 0.001 + 0.002 * f64::from(index),
            })
            .collect();
        let both = |is_cylinder| {
            let direct = Pairs::direct(&rings, is_cylinder);
            (direct, Pairs::image(&rings, -0.004, is_cylinder))
        };
        let (table, any) = (both(true), both(false));
        let same = |one: Pair, other: Pair| {
            assert!((one.mutual_h / other.mutual_h - 1.0).abs() < 1e-12);
            assert!((one.potential_v_per_c / other.potential_v_per_c - 1.0).abs() < 1e-12);
        };
        for (row, column) in [(0, 6), (5, 2), (3, 4)] {
            same(table.0.at(row, column), any.0.at(row, column));
            same(table.1.at(row, column), any.1.at(row, column));
        }
        same(table.1.at(3, 3), any.1.at(3, 3));
    }
}
