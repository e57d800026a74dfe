//! The library's faults, weighed by the readings.

use super::advice::runs_in;
use crate::diagnosis::evidence::{Evidence, Observation};
use crate::diagnosis::fault::Fault;
use crate::diagnosis::library::Library;
use crate::diagnosis::quantity::Quantity;
use crate::diagnosis::situation::Situation;

/// A fault of the library with its draws weighed.
#[derive(Debug, Clone)]
pub(super) struct Weighed {
    /// Its place in the library.
    pub(super) place: usize,
    pub(super) fault: &'static Fault,
    pub(super) prior: f64,
    pub(super) probability: f64,
    /// Mean likelihood over its draws.
    pub(super) likelihood: f64,
    /// Weight of each draw, adding up to 1.
    pub(super) draws: Vec<f64>,
}

/// Causes below this are not looked at closely.
pub(super) const NEGLIGIBLE: f64 = 2e-3;

/// Returns the readings as they are weighed. The glow of a diode that never glows is left out. So is a hand's effect on a circuit
/// that runs without it, for it stops most of them.
pub(super) fn visible(library: &Library, evidence: &Evidence) -> Vec<Observation> {
    let has_led = library.has_led();
    let runs = runs_in(evidence, Situation::AsFound);
    let mut observations = evidence.weighed();
    observations.retain(|seen| {
        let is_led = matches!(seen.quantity, Quantity::Led | Quantity::Blinking);
        (has_led || !is_led) && !(runs && seen.situation == Situation::Touched)
    });
    observations
}

/// Returns this number of draws in proportion to their weights, evenly through them.
pub(super) fn picked(weights: &[f64], count: usize) -> Vec<usize> {
    let mut picked = Vec::with_capacity(count);
    let mut reached = 0.0;
    for (index, weight) in weights.iter().enumerate() {
        reached += weight;
        while picked.len() < count && (picked.len() as f64 + 0.5) / (count as f64) < reached {
            picked.push(index);
        }
    }
    picked
}
