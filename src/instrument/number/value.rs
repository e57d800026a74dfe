//! The result of reading a value, and the factor between the instrument's number and the quantity meant.

use crate::instrument::refusal::Refusal;

/// A factor between the instrument's number and the quantity meant, split so that powers of ten stay exact.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Multiplier {
    /// The power of ten in it, added to the decimal exponent.
    pub(in crate::instrument) shift: i32,
    /// The rest; exactly 1 for ×10, ×100, ×0.1.
    factor: f64,
}

/// A product is written to this number of significant digits: more than any divider is known to, fewer than its rounding shows in.
const PRODUCT_DIGITS: usize = 15;

impl Multiplier {
    /// No factor.
    pub const ONE: Self = Self {
        shift: 0,
        factor: 1.0,
    };

    /// The multiplier for a factor.
    pub fn new(factor: f64) -> Self {
        let text = format!("{factor:e}");
        match text.strip_prefix("1e").and_then(|shift| shift.parse().ok()) {
            Some(shift) => Self { shift, factor: 1.0 },
            None => Self { shift: 0, factor },
        }
    }

    /// Both, one after the other.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self {
            shift: self.shift + other.shift,
            factor: self.factor * other.factor,
        }
    }

    /// A value that is no text, multiplied.
    pub fn scale(self, value: f64) -> f64 {
        let value = if self.shift == 0 {
            value
        } else {
            // 2.94 V of a divider by ten is 0.294 V, not 0.29400000000000004 V.
            let text = format!(
                "{:.*e}",
                PRODUCT_DIGITS - 1,
                value * 10.0_f64.powi(self.shift)
            );
            text.parse().unwrap_or(f64::NAN)
        };
        self.apply(value)
    }

    pub(in crate::instrument) fn apply(self, value: f64) -> f64 {
        if self.factor.to_bits() == 1.0_f64.to_bits() {
            return value;
        }
        // 0.8912 × 11 is to stand as 9.8032 in the file, not as 9.803199999999999.
        let text = format!("{:.*e}", PRODUCT_DIGITS - 1, value * self.factor);
        text.parse().unwrap_or(f64::NAN)
    }
}

/// The result of reading an answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Value {
    /// A number in the SI unit.
    Number(f64),
    /// The instrument finds nothing to measure.
    NoSignal,
    /// The value is beyond its range.
    Overload,
    /// There is something to measure, but it has no one value.
    Unsteady,
    /// It cannot be read, and why.
    Garbled(Refusal),
}
