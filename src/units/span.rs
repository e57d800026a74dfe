//! A range of a quantity.

/// A range of a quantity, in the unit that the name of what holds it ends in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Its lower end.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
}

impl Span {
    /// From `low` to `high`.
    pub const fn new(low: f64, high: f64) -> Self {
        Self { low, high }
    }

    /// One value and no more.
    pub const fn of(value: f64) -> Self {
        Self::new(value, value)
    }

    /// Both, and what lies between them.
    #[must_use]
    pub const fn joined(self, other: Self) -> Self {
        Self::new(self.low.min(other.low), self.high.max(other.high))
    }

    /// Whether a value lies in it, the ends included.
    pub fn contains(self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    /// From its lower end to its upper.
    pub const fn width(self) -> f64 {
        self.high - self.low
    }
}
