//! A circuit at rest: its network, its bias point, and the oscillations that grow from there.

use thiserror::Error;

use super::startup::{Startup, StartupError};
use crate::circuit::bias::{Bias, BiasError};
use crate::circuit::wiring::{CircuitSpec, Wired};

/// A circuit that can't be judged.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
#[non_exhaustive]
pub enum VerdictError {
    /// It has no bias point.
    #[error(transparent)]
    Bias(#[from] BiasError),
    /// It has no start-up condition.
    #[error(transparent)]
    Startup(#[from] StartupError),
}

/// A circuit at rest with the oscillations that grow from it.
#[derive(Debug, Clone)]
pub struct Rest {
    /// Its network.
    pub wired: Wired,
    /// Where it rests.
    pub bias: Bias,
    /// Whether it starts.
    pub startup: Startup,
}

impl Rest {
    /// Returns the bias point and the start-up condition of a circuit.
    ///
    /// # Errors
    /// [`VerdictError`] if either does not exist.
    pub fn of(spec: &CircuitSpec) -> Result<Self, VerdictError> {
        let wired = spec.wired();
        let mut bias = Bias::find(&wired.network)?;
        let startup = Startup::at(&mut bias)?;
        Ok(Self {
            wired,
            bias,
            startup,
        })
    }

    /// Returns the transition frequency of the transistor at rest, in hertz.
    pub fn transition_hz(&self) -> f64 {
        self.bias.small_signal(self.wired.transistor).transition_hz
    }

    /// Returns the forward transit time with which its transition frequency at this bias point is another, in seconds; `None`
    /// where the depletion charges alone are slower.
    pub(crate) fn transit_for_s(&self, spec: &CircuitSpec, transition_hz: f64) -> Option<f64> {
        let actual_s = spec.transistor.model.forward_transit_s;
        // The reciprocal goes straight with the transit time.
        let at = |transit_s: f64| 1.0 / self.transition_hz_with(transit_s);
        let (none, whole) = (at(0.0), at(actual_s));
        let transit_s = actual_s * (1.0 / transition_hz - none) / (whole - none);
        (transit_s > 0.0).then_some(transit_s)
    }

    /// Returns the same if its forward transit time were this, in hertz.
    pub(super) fn transition_hz_with(&self, transit_s: f64) -> f64 {
        let mut bias = self.bias.clone();
        bias.system.set_transit(self.wired.transistor, transit_s);
        bias.small_signal(self.wired.transistor).transition_hz
    }
}
