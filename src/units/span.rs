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
    /// Whether a value lies in it, the ends included.
    pub fn contains(self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    /// From its lower end to its upper.
    pub const fn width(self) -> f64 {
        self.high - self.low
    }
}
