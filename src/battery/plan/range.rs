//! A range with its middle.

/// A shorter time is not said, in seconds.
pub const LEAST_SAID_S: f64 = 30.0;

/// A range with its middle; which unit, the name of the field says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// The foot.
    pub low: f64,
    /// The middle; `None` where only a top is known.
    pub middle: Option<f64>,
    /// The top.
    pub high: f64,
}

impl Range {
    /// Returns the same range with each of its times converted.
    pub(super) fn map(self, to: impl Fn(f64) -> f64) -> Self {
        Self {
            low: to(self.low),
            middle: self.middle.map(&to),
            high: to(self.high),
        }
    }

    /// Returns it without a middle where the foot is less than half a minute. Such a time, in seconds, says no more than its top:
    /// a middle of it would be idle.
    pub(super) const fn without_idle_middle(self) -> Self {
        if self.low < LEAST_SAID_S {
            Self {
                middle: None,
                ..self
            }
        } else {
            self
        }
    }
}
