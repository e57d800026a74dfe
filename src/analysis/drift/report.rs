//! Drift and pushing by the readings.

use crate::analysis::statistics::estimate::Estimate;

/// A slope that was fitted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fitted {
    /// The slope, in hertz per second or hertz per volt.
    pub slope: Estimate,
    /// Autocorrelation of the residuals that the fit was made with, from one mean to the next.
    pub rho: f64,
    /// Readings it rests on.
    pub readings: usize,
    /// Means of them that were fitted.
    pub means: usize,
    /// Length of the stretch that each mean is over, in seconds; `None` if each reading stood by itself.
    pub width_s: Option<f64>,
    /// How many independent readings the means are worth.
    pub effective: f64,
    /// A time in seconds or a voltage in volts.
    pub at: f64,
    /// The fitted line's frequency there, in hertz.
    pub at_hz: f64,
    /// Whether the interval can be relied on.
    pub trust: Trust,
}

/// Whether an interval can be relied on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Trust {
    /// As far as the assumption holds.
    Fair,
    /// The residuals cannot be distinguished from a random walk: the interval is a lower bound.
    Wandering,
}

/// A slope, or why there is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Slope {
    /// It was fitted.
    Fitted(Fitted),
    /// Too few readings for a number.
    TooFew {
        /// Readings.
        readings: usize,
    },
    /// Time or voltage did not vary, so nothing can depend on it.
    Level,
}

/// Time and voltage in one model, when the record can separate them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Joint {
    /// Both slopes, each with the other held.
    Separate {
        /// Drift at constant voltage, in hertz per second.
        on_time: Fitted,
        /// Pushing at constant time, in hertz per volt.
        on_voltage: Fitted,
        /// Variance inflation factor.
        inflation: f64,
    },
    /// Time and voltage went together and cannot be separated.
    Together {
        /// Variance inflation factor.
        inflation: f64,
    },
    /// No joint fit: one of the two is missing, or the readings are too few.
    Absent,
}

/// Drift and pushing by the readings so far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DriftReport {
    /// Frequency on time alone, in hertz per second.
    pub on_time: Slope,
    /// Frequency on battery voltage alone, in hertz per volt.
    pub on_voltage: Slope,
    /// Both in one model.
    pub joint: Joint,
    /// Unbroken stretches of frequency readings.
    pub stretches: usize,
    /// Levels that steps part, each with a constant of its own in the fits; 1 without a step.
    pub levels: usize,
}
