//! Peukert's law, inside the currents it was fitted on and nowhere else.

use crate::units::{Unit, rounded};

/// A fit of t = C1 / I^k through two discharges.
///
/// Source: W. Peukert, ETZ 18 (1897). On a published vendor's test of a 9 V type, a fit through 100 and 500 mA was 20 % high
/// at 1 A, so a current outside the fit is refused.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peukert {
    /// The exponent.
    pub k: f64,
    /// Time at 1 A, in hours; C1 in ampere hours.
    constant_h: f64,
    /// The smaller current of the fit, in amperes.
    pub least_a: f64,
    /// The larger, in amperes.
    pub most_a: f64,
}

/// Why no capacity is given.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error(
    "current {}: outside the fit, expected {} to {}",
    rounded(*current_a, Unit::Ampere, 3),
    rounded(*least_a, Unit::Ampere, 3),
    rounded(*most_a, Unit::Ampere, 3)
)]
pub struct OutsideFit {
    /// The current asked for, in amperes.
    pub current_a: f64,
    /// The least that was fitted, in amperes.
    pub least_a: f64,
    /// The most, in amperes.
    pub most_a: f64,
}

impl Peukert {
    /// Fits the law through two discharges, each as current and charge in amperes and ampere hours; `None` where the currents
    /// differ by less than a fifth or a value is not above zero: the exponent would be noise.
    pub fn through(one: (f64, f64), other: (f64, f64)) -> Option<Self> {
        let ((least_a, least_ah), (most_a, most_ah)) = if one.0 <= other.0 {
            (one, other)
        } else {
            (other, one)
        };
        let is_wide = least_a > 0.0 && most_a >= 1.2 * least_a && least_ah.min(most_ah) > 0.0;
        is_wide.then(|| {
            // C = C1 I^(1 - k)
            let k = 1.0 - (most_ah / least_ah).ln() / (most_a / least_a).ln();
            Self {
                k,
                constant_h: least_ah / least_a * least_a.powf(k),
                least_a,
                most_a,
            }
        })
    }

    /// Returns the time to the end at a current, in hours.
    ///
    /// # Errors
    /// [`OutsideFit`].
    pub fn time_h(&self, current_a: f64) -> Result<f64, OutsideFit> {
        // A rounding in the last digit does not take a current out of its own fit.
        let slack = 1e-9;
        if current_a < self.least_a * (1.0 - slack) || current_a > self.most_a * (1.0 + slack) {
            return Err(OutsideFit {
                current_a,
                least_a: self.least_a,
                most_a: self.most_a,
            });
        }
        Ok(self.constant_h / current_a.powf(self.k))
    }

    /// Returns the charge to the end at a current, in ampere hours.
    ///
    /// # Errors
    /// [`OutsideFit`].
    pub fn charge_ah(&self, current_a: f64) -> Result<f64, OutsideFit> {
        Ok(self.time_h(current_a)? * current_a)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_current_outside_the_fit_is_refused() {
        let fit = Peukert::through((0.1, 0.45), (0.5, 0.33)).unwrap();
        insta::assert_snapshot!(fit.charge_ah(1.0).unwrap_err(),
            @"current 1.00 A: outside the fit, expected 100 mA to 500 mA");
        assert!(fit.charge_ah(0.5).is_ok() && fit.charge_ah(0.1).is_ok());
    }

    #[test]
    fn currents_too_near_to_each_other_are_not_fitted() {
        assert_eq!(Peukert::through((0.30, 0.30), (0.31, 0.29)), None);
        assert_eq!(Peukert::through((0.1, 0.0), (0.5, 0.3)), None);
    }

    #[test]
    fn the_order_of_the_two_runs_does_not_matter() {
        let one = Peukert::through((0.1, 0.31), (0.5, 0.17)).unwrap();
        let other = Peukert::through((0.5, 0.17), (0.1, 0.31)).unwrap();
        assert_eq!(one, other);
    }
}
