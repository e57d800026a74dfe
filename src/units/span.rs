//! A range of a quantity.

/// A range of a quantity; its unit is the one in which the name of its field ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// Its lower end.
    pub low: f64,
    /// Its upper end.
    pub high: f64,
}

impl Span {
    /// The range from `low` to `high`.
    pub const fn new(low: f64, high: f64) -> Self {
        Self { low, high }
    }

    /// One value and no more.
    pub const fn of(value: f64) -> Self {
        Self::new(value, value)
    }

    /// No value at all: joined with a range it is that range.
    pub const NONE: Self = Self::new(f64::INFINITY, f64::NEG_INFINITY);

    /// The range from the least of some values to the greatest.
    pub fn over(values: impl IntoIterator<Item = f64>) -> Self {
        let each = values.into_iter().map(Self::of);
        each.fold(Self::NONE, Self::joined)
    }

    /// Both ends times a factor that is not negative.
    #[must_use]
    pub const fn times(self, factor: f64) -> Self {
        Self::new(self.low * factor, self.high * factor)
    }

    /// Returns the range of both, with the values between them.
    #[must_use]
    pub const fn joined(self, other: Self) -> Self {
        Self::new(self.low.min(other.low), self.high.max(other.high))
    }

    /// Whether a value lies in it, the ends included.
    pub fn contains(self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    /// The distance from its lower end to its upper.
    pub const fn width(self) -> f64 {
        self.high - self.low
    }
}
