//! How far a battery's voltage may lie from curves of other types.
//!
//! Between types the difference is no noise: it drifts slowly along the run. So neighbouring points of a run say little more than
//! one of them, and a long stretch says more than a short one. The differences are taken as a constant and a slow drift with a
//! correlation that falls with the distance along the run (Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006,
//! eq. 4.17, the Matern form of order 3/2). The cost of points by it is eq. 2.30 without its constant.

/// Averaged points of the run so far.
pub(super) const POINTS: usize = 12;
/// Types settle under a load in different ways, over minutes: those are left out, in seconds. Chosen by a shipped cell, Chen2020,
/// which falls by 0.1 to 0.2 V in that time.
pub(super) const SETTLING_S: f64 = 150.0;
/// How far one type's voltage lies beside another's all along, in volts for a 9 V battery: the first volts of the three
/// lithium cells that ship lie 0.12 to 0.25 V apart at like load. Three are few, so the greatest is taken.
const OFFSET_V: f64 = 0.25;
/// How far the shapes of two types' curves lie apart, in volts for a 9 V battery; of the published recipe for other types.
const SHAPE_V: f64 = 0.20;
/// The share of a run along which a difference changes. The three cells' differences keep their sign over two thirds of it.
const REACH: f64 = 0.6;
/// Noise of an averaged point, in volts for a 9 V battery: that of the shipped curves.
const NOISE_V: f64 = 0.02;
/// How much a curve of another load still counts, as a standard deviation of the logarithm of the full run's length. Chosen:
/// half or twice as long a run is as far off as 1.4 of it.
const LOAD_LOG_SD: f64 = 0.5;

/// Returns the cost, in squared standard deviations, of a curve whose full run lasts `curve_s` where this one would last
/// `full_s`.
pub(super) fn load(full_s: f64, curve_s: f64) -> f64 {
    ((full_s / curve_s).ln() / LOAD_LOG_SD).powi(2)
}

/// The covariance of differences at some places along a run as the factor of its Cholesky decomposition.
#[derive(Debug, Clone)]
pub(super) struct Factor {
    rows: [[f64; POINTS]; POINTS],
    /// Logarithm of the determinant of the covariance.
    log_determinant: f64,
}

impl Factor {
    /// Creates one for these shares of a run; at most [`POINTS`] of them count.
    pub(super) fn of(shares: &[f64], series: f64) -> Self {
        let mut rows = [[0.0; POINTS]; POINTS];
        let mut log_determinant = 0.0;
        for at in 0..shares.len().min(POINTS) {
            for before in 0..=at {
                let known: f64 = (0..before).map(|k| rows[at][k] * rows[before][k]).sum();
                let left_v2 = covariance_v2(shares[at] - shares[before], at == before) - known;
                // The noise keeps the rest above zero.
                rows[at][before] = if at == before {
                    left_v2.sqrt()
                } else {
                    left_v2 / rows[before][before]
                };
            }
            log_determinant += 2.0 * rows[at][at].ln();
        }
        for row in &mut rows {
            for one in row {
                *one *= series;
            }
        }
        Self {
            rows,
            log_determinant,
        }
    }

    /// Returns the cost of differences at those places, given in volts.
    pub(super) fn misfit(&self, off_v: impl Iterator<Item = f64>) -> f64 {
        let mut solved = [0.0; POINTS];
        let mut cost = self.log_determinant;
        for (at, off_v) in off_v.take(POINTS).enumerate() {
            let row = &self.rows[at];
            let known: f64 = row.iter().zip(&solved).take(at).map(|(a, b)| a * b).sum();
            solved[at] = (off_v - known) / row[at];
            cost += solved[at] * solved[at];
        }
        cost
    }
}

/// Returns the covariance of two differences this far apart along the run, in square volts for a 9 V battery.
fn covariance_v2(apart: f64, is_same: bool) -> f64 {
    let reach = 3.0_f64.sqrt() * apart.abs() / REACH;
    let drift = (SHAPE_V * SHAPE_V) * (1.0 + reach) * (-reach).exp();
    OFFSET_V * OFFSET_V + drift + if is_same { NOISE_V * NOISE_V } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Two places in closed form: the cost is the quadratic form of the inverted 2 by 2 covariance plus its log-determinant.
    #[test]
    fn two_differences_cost_what_the_inverted_covariance_says() {
        let (near, far) = (covariance_v2(0.0, true), covariance_v2(0.3, false));
        let determinant = near * near - far * far;
        let (a, b) = (0.2, -0.1);
        let expected =
            (near * (a * a + b * b) - 2.0 * far * a * b) / determinant + determinant.ln();
        let got = Factor::of(&[0.1, 0.4], 1.0).misfit([a, b].into_iter());
        assert!((got - expected).abs() < 1e-9, "{got} {expected}");
    }

    #[test]
    fn a_constant_difference_costs_little_and_one_that_turns_much() {
        let shares: Vec<f64> = (0..POINTS).map(|at| 0.04 * at as f64).collect();
        let factor = Factor::of(&shares, 1.0);
        let constant = factor.misfit(shares.iter().map(|_| 0.2));
        let turning = factor.misfit(shares.iter().map(|share| 0.2 * (40.0 * share).sin()));
        assert!(turning > constant + 50.0, "{constant} {turning}");
    }

    #[test]
    fn two_in_series_cost_the_same_at_twice_the_difference() {
        let shares = [0.1, 0.2, 0.5];
        let one = Factor::of(&shares, 1.0).misfit([0.1, 0.2, 0.1].into_iter());
        let two = Factor::of(&shares, 2.0).misfit([0.2, 0.4, 0.2].into_iter());
        assert!((one - two).abs() < 1e-9);
    }
}
