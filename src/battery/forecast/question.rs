//! The question that a forecast answers: the run so far, the curves it is laid on, and the belief beforehand.

use super::level::Flat;
use super::library::Library;
use crate::battery::curve::Sample;
use crate::battery::finished::Start;

/// The belief about a full run's length before this run is looked at: log-normal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// The middle, in seconds.
    pub centre_s: f64,
    /// Standard deviation of the logarithm; infinite where only the greatest is known.
    pub log_sd: f64,
    /// The greatest that can be, in seconds.
    pub most_s: f64,
}

impl Prior {
    /// Returns how far a length is from the middle, in squared standard deviations.
    pub(super) fn surprise(self, run_s: f64) -> f64 {
        if run_s > self.most_s {
            return f64::INFINITY;
        }
        ((run_s / self.centre_s).ln() / self.log_sd).powi(2)
    }
}

/// How near the curves that a run is laid on are to its battery.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Likeness {
    /// They are its own.
    Same,
    /// They are of other types.
    Other,
}

/// The data that a forecast is made from.
#[derive(Debug, Clone)]
pub struct Question<'a> {
    /// The run so far, in the order of its time.
    pub so_far: &'a [Sample],
    /// How the battery was at the start.
    pub start: Start,
    /// Whole curves, all to the same end voltage.
    pub library: &'a Library,
    /// How near they are to this battery.
    pub likeness: Likeness,
    /// The belief beforehand.
    pub prior: Option<Prior>,
    /// How flat a voltage must be to show no end.
    pub flat: Flat,
    /// How many batteries stand in series.
    pub series: u32,
}

/// The outcome of the claim that the battery was full at the start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Claim {
    /// Nobody claimed it.
    None,
    /// The first volts agree.
    Agrees,
    /// The first volts are lower than those of full batteries at like load, or the run looks part-used: such states were
    /// tried.
    Disagrees,
}
