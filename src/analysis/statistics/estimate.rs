//! A value with its uncertainty, and how the two are written.

use crate::units::{self, Unit};

/// A value with half the width of its 95 % interval, both in the same unit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// The value.
    pub value: f64,
    /// The interval reaches this far to either side.
    pub half_width: f64,
}

impl Estimate {
    /// Returns the same in another unit.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self {
            value: self.value * factor,
            half_width: self.half_width * factor.abs(),
        }
    }

    /// Writes both, `12.631 kHz/V ± 40 Hz/V`: the half-width with two significant digits, the value to the same place.
    ///
    /// `per` is the divisor of the unit, `"/V"`, or empty.
    pub fn written(self, unit: Unit, per: &str) -> String {
        let value = to_place_of(self.value, self.half_width, unit);
        if self.half_width > 0.0 {
            let half_width = units::rounded(self.half_width, unit, 2);
            format!("{value}{per} ± {half_width}{per}")
        } else {
            format!("{value}{per} ± 0")
        }
    }
}

/// Writes a value to the place of the second significant digit of `width`, its uncertainty or spread; in full when there
/// is no width to go by, as with readings that never differed by a digit.
pub fn to_place_of(value: f64, width: f64, unit: Unit) -> String {
    let Some(place) = decade(width, 1).map(|decade| decade - 1) else {
        return units::exact(value, unit);
    };
    let step = 10_f64.powi(place);
    let value = (value / step).round() * step;
    let digits = decade(value, 15).map_or(1, |decade| decade - place + 1);
    units::rounded(value, unit, usize::try_from(digits).unwrap_or(1))
}

/// Returns the decimal exponent of a value once it is rounded to `decimals` digits after its first; `None` for zero and for
/// anything that is no number.
fn decade(value: f64, decimals: usize) -> Option<i32> {
    let text = format!("{value:.decimals$e}");
    let (_, exponent) = text.split_once('e')?;
    exponent.parse().ok().filter(|_| value != 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(value: f64, half_width: f64) -> String {
        Estimate { value, half_width }.written(Unit::Hertz, "/V")
    }

    #[test]
    fn the_value_ends_where_its_uncertainty_does() {
        assert_eq!(written(12630.5566, 40.46), "12.631 kHz/V ± 40 Hz/V");
        assert_eq!(written(-0.38871, 0.5237), "-390 mHz/V ± 520 mHz/V");
        assert_eq!(written(6231450.26, 0.996), "6.2314503 MHz/V ± 1.0 Hz/V");
        assert_eq!(written(6231450.26, 12_345.0), "6.231 MHz/V ± 12 kHz/V");
    }

    #[test]
    fn a_value_lost_in_its_uncertainty_is_nought() {
        assert_eq!(written(3.0, 120.0), "0 Hz/V ± 120 Hz/V");
        assert_eq!(written(7.0, 120.0), "10 Hz/V ± 120 Hz/V");
    }

    #[test]
    fn readings_that_never_differed_have_no_width() {
        assert_eq!(written(0.0, 0.0), "0 Hz/V ± 0");
        assert_eq!(written(1.5, f64::NAN), "1.5 Hz/V ± 0");
    }

    #[test]
    fn another_unit_changes_both() {
        let per_hour = Estimate {
            value: -0.5,
            half_width: 0.1,
        }
        .scaled(3600.0);
        assert_eq!(
            per_hour.written(Unit::Hertz, "/h"),
            "-1.80 kHz/h ± 360 Hz/h"
        );
    }
}
