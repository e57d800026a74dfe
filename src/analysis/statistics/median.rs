//! A running median in constant memory.

/// The median of a stream by the P² algorithm: five markers, moved along a parabola.
///
/// Source: R. Jain and I. Chlamtac, "The P² algorithm for dynamic calculation of quantiles and histograms without storing
/// observations", Communications of the ACM 28 (1985). Exact up to five values, an estimate beyond; for values that drift
/// it lags, so it is a guide and no input to a fit.
#[derive(Debug, Clone, Default)]
pub struct Median {
    heights: [f64; 5],
    places: [f64; 5],
    count: usize,
}

impl Median {
    /// Takes one value in.
    pub fn push(&mut self, value: f64) {
        if let Some(slot) = self.heights.get_mut(self.count) {
            *slot = value;
            self.count += 1;
            self.heights[..self.count].sort_by(f64::total_cmp);
            self.places = [0.0, 1.0, 2.0, 3.0, 4.0];
            return;
        }
        self.count += 1;
        self.heights[0] = self.heights[0].min(value);
        self.heights[4] = self.heights[4].max(value);
        for i in 1..5 {
            if i == 4 || value < self.heights[i] {
                self.places[i] += 1.0;
            }
        }
        let last = self.places[4];
        for i in 1..4 {
            let wanted = last * i as f64 / 4.0;
            let off = wanted - self.places[i];
            let room_above = self.places[i + 1] - self.places[i] > 1.0;
            let room_below = self.places[i] - self.places[i - 1] > 1.0;
            if (off >= 1.0 && room_above) || (off <= -1.0 && room_below) {
                self.step(i, off.signum());
            }
        }
    }

    /// Moves marker `i` by one place, its height along the parabola through its neighbours, or along a straight line when
    /// the parabola would leave their order.
    fn step(&mut self, i: usize, way: f64) {
        let (below, here, above) = (self.heights[i - 1], self.heights[i], self.heights[i + 1]);
        let left = self.places[i] - self.places[i - 1];
        let right = self.places[i + 1] - self.places[i];
        let parabola = here
            + way / (left + right)
                * ((left + way) * (above - here) / right + (right - way) * (here - below) / left);
        self.heights[i] = if below < parabola && parabola < above {
            parabola
        } else if way > 0.0 {
            here + (above - here) / right
        } else {
            here - (here - below) / left
        };
        self.places[i] += way;
    }

    /// Returns the median so far; `None` before the first value.
    pub fn value(&self) -> Option<f64> {
        let half = self.count / 2;
        match self.count {
            0 => None,
            1..=5 if self.count % 2 == 1 => Some(self.heights[half]),
            1..=5 => Some(f64::midpoint(self.heights[half - 1], self.heights[half])),
            _ => Some(self.heights[2]),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn median_of(values: &[f64]) -> Option<f64> {
        let mut median = Median::default();
        for &value in values {
            median.push(value);
        }
        median.value()
    }

    #[test]
    fn few_values_give_the_exact_median() {
        assert_eq!(median_of(&[]), None);
        assert_eq!(median_of(&[3.0]), Some(3.0));
        assert_eq!(median_of(&[3.0, 1.0]), Some(2.0));
        assert_eq!(median_of(&[5.0, 1.0, 9.0, 2.0, 7.0]), Some(5.0));
    }

    #[test]
    fn the_worked_example_of_the_paper_comes_out() {
        // Jain & Chlamtac 1985, table I: twenty observations, median estimate 4.44 at the end (from memory).
        let observations = [
            0.02, 0.15, 0.74, 3.39, 0.83, 22.37, 10.15, 15.43, 38.62, 15.92, 34.60, 10.28, 1.47,
            0.40, 0.05, 11.39, 0.27, 0.42, 0.09, 11.37,
        ];
        let got = median_of(&observations).unwrap();
        assert!((got - 4.44).abs() < 0.005, "{got}");
    }

    #[test]
    fn equal_intervals_with_a_few_long_ones_give_the_usual_one() {
        let values: Vec<f64> = (0..1000)
            .map(|i| if i % 50 == 49 { 30.0 } else { 0.5 })
            .collect();
        let got = median_of(&values).unwrap();
        assert!((got - 0.5).abs() < 1e-6, "{got}");
    }
}
