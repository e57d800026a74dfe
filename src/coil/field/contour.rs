//! Lines of equal value through a grid of values.

use std::collections::HashMap;

/// Values at the crossings of evenly spaced lines.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Grid {
    /// Where its first value is.
    pub(super) from: (f64, f64),
    /// Distance of two neighbours, the same both ways.
    pub(super) step: f64,
    /// Values in a row.
    pub(super) across: usize,
    /// The rows one after another, the first the lowest.
    pub(super) values: Vec<f64>,
}

/// The place between two neighbours where a line crosses: the lower left one's index, and whether it lies to its right or
/// above it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
struct Crossing {
    index: usize,
    is_upright: bool,
}

impl Grid {
    fn place(&self, crossing: Crossing, level: f64) -> Option<(f64, f64)> {
        let Crossing { index, is_upright } = crossing;
        let next = index + if is_upright { self.across } else { 1 };
        let (one, other) = (*self.values.get(index)?, *self.values.get(next)?);
        let share = ((level - one) / (other - one)).clamp(0.0, 1.0);
        let (right, up) = if is_upright {
            (0.0, share)
        } else {
            (share, 0.0)
        };
        let (column, row) = (index % self.across, index / self.across);
        Some((
            self.step.mul_add(column as f64 + right, self.from.0),
            self.step.mul_add(row as f64 + up, self.from.1),
        ))
    }

    /// Returns the stretches of a line through the cell whose lower left corner is at `index`.
    ///
    /// Marching squares (Lorensen and Cline 1987 in two dimensions, from memory). In a cell with two opposite corners
    /// above, the line goes round those that the mean of the four is not with.
    fn stretches(&self, index: usize, level: f64) -> Vec<[Crossing; 2]> {
        let corners = [
            index,
            index + 1,
            index + self.across + 1,
            index + self.across,
        ];
        let values = corners.map(|corner| self.values.get(corner).copied().unwrap_or(f64::NAN));
        if values.iter().any(|value| !value.is_finite()) {
            return Vec::new();
        }
        let above = values.map(|value| value > level);
        let side = |at: usize, is_upright| Crossing {
            index: at,
            is_upright,
        };
        // Counted as the corners are: below, right, above, left.
        let sides = [
            side(index, false),
            side(index + 1, true),
            side(index + self.across, false),
            side(index, true),
        ];
        let crossed: Vec<usize> = (0..4)
            .filter(|at| above[*at] != above[(at + 1) % 4])
            .collect();
        match crossed.as_slice() {
            [one, other] => vec![[sides[*one], sides[*other]]],
            [_, _, _, _] => {
                let is_middle_above = values.iter().sum::<f64>() / 4.0 > level;
                if is_middle_above == above[0] {
                    vec![[sides[0], sides[1]], [sides[2], sides[3]]]
                } else {
                    vec![[sides[3], sides[0]], [sides[1], sides[2]]]
                }
            }
            _ => Vec::new(),
        }
    }

    /// Returns the lines along which the values are `level`, each a run of points from edge to edge or back to its beginning.
    pub(super) fn contours(&self, level: f64) -> Vec<Vec<(f64, f64)>> {
        let rows = self.values.len() / self.across.max(1);
        let cells = (0..rows.saturating_sub(1)).flat_map(|row| {
            (0..self.across.saturating_sub(1)).map(move |column| row * self.across + column)
        });
        let stretches: Vec<[Crossing; 2]> = cells
            .flat_map(|index| self.stretches(index, level))
            .collect();
        let mut at: HashMap<Crossing, Vec<usize>> = HashMap::new();
        for (number, stretch) in stretches.iter().enumerate() {
            for end in stretch {
                at.entry(*end).or_default().push(number);
            }
        }
        let mut is_used = vec![false; stretches.len()];
        let is_edge = |end: &Crossing| at.get(end).is_some_and(|found| found.len() == 1);
        // Open lines come first, from an end; the rest are closed ones.
        let open = (0..stretches.len()).filter(|number| stretches[*number].iter().any(is_edge));
        let starts: Vec<usize> = open.chain(0..stretches.len()).collect();
        let mut lines = Vec::new();
        for start in starts {
            if is_used[start] {
                continue;
            }
            let [one, other] = stretches[start];
            let (first, mut end) = if is_edge(&other) {
                (other, one)
            } else {
                (one, other)
            };
            is_used[start] = true;
            let mut line = vec![first, end];
            let next_of = |end: &Crossing, is_used: &[bool]| {
                let found = at.get(end)?;
                found.iter().copied().find(|number| !is_used[*number])
            };
            while let Some(next) = next_of(&end, &is_used) {
                is_used[next] = true;
                let [one, other] = stretches[next];
                end = if one == end { other } else { one };
                line.push(end);
            }
            let places = line.into_iter().filter_map(|one| self.place(one, level));
            lines.push(places.collect());
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(of: impl Fn(f64, f64) -> f64) -> Grid {
        let (across, step) = (41, 0.1);
        let at = |index: usize| step * index as f64 - 2.0;
        let values = (0..across * across).map(|index| of(at(index % across), at(index / across)));
        Grid {
            from: (-2.0, -2.0),
            step,
            across,
            values: values.collect(),
        }
    }

    #[test]
    fn a_cone_is_cut_in_a_circle() {
        let lines = grid(f64::hypot).contours(1.5);
        let [circle] = lines.as_slice() else {
            panic!("{}", lines.len());
        };
        assert_eq!(circle.first(), circle.last());
        assert!(circle.iter().all(|(x, y)| (x.hypot(*y) - 1.5).abs() < 2e-3));
        assert!(circle.len() > 100);
    }

    #[test]
    fn a_line_that_leaves_the_grid_has_two_ends_there() {
        let lines = grid(|x, _| x).contours(0.55);
        let [line] = lines.as_slice() else {
            panic!("{}", lines.len());
        };
        assert_eq!(line.len(), 41);
        assert!(line.iter().all(|(x, _)| (x - 0.55).abs() < 1e-12));
    }

    #[test]
    fn a_saddle_is_two_lines_and_what_is_no_number_is_a_hole() {
        assert_eq!(grid(|x, y| x * y).contours(0.5).len(), 2);
        let holed = grid(|x, y| if y > 0.0 { f64::NAN } else { x });
        let lines = holed.contours(0.55);
        assert!(lines.len() == 1 && lines[0].iter().all(|(_, y)| *y < 1e-9));
        assert!(grid(|_, _| 1.0).contours(1.0).is_empty());
        let none = Grid {
            from: (0.0, 0.0),
            step: 1.0,
            across: 0,
            values: Vec::new(),
        };
        assert!(none.contours(1.0).is_empty());
    }
}
