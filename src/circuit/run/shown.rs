//! The transistor of a build that is known to start: how fast it must at least be.
//!
//! Published figures of slow classes are too low for builds that run, and no published curve settles it. A build that runs
//! does: its loop gain, which goes as transition frequency times quality factor, is above 1.

use crate::circuit::margin::Margins;
use crate::circuit::rest::{Rest, VerdictError};
use crate::circuit::wiring::CircuitSpec;

/// Times the speed that just starts, below which none of a grid of eighty simulated circuits ran fully when switched on:
/// loop gains of 1.79 with a gain of 120 at the bias current, of 1.99 with 60, less 14 % for the collector's capacitance; the
/// lower, rounded down.
pub const LIT_SPEED: f64 = 1.5;

/// The least speed of a transistor in a circuit that starts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeastSpeed {
    /// Transition frequency at the bias point, in hertz.
    pub transition_hz: f64,
    /// The same times the secondary's quality factor, in hertz.
    pub product_hz: f64,
    /// Collector current at the bias point, in amperes.
    pub bias_a: f64,
    /// The forward transit time that goes with it, in seconds.
    pub transit_s: f64,
}

impl LeastSpeed {
    /// Returns the transistor's least speed, all else as it is, in a circuit known to have `times` the speed that just starts;
    /// `None` where no speed would do.
    ///
    /// # Errors
    /// [`VerdictError`] where the circuit has no bias point or nothing that can oscillate.
    pub fn of(spec: &CircuitSpec, times: f64) -> Result<Option<Self>, VerdictError> {
        let rest = Rest::of(spec)?;
        let Some(start_hz) = Margins::transition_to_start_hz(spec, &rest)? else {
            return Ok(None);
        };
        Ok(Self::at(spec, &rest, times * start_hz))
    }

    /// Creates one from a transition frequency at the bias point of a circuit, in hertz; `None` where its depletion charges are
    /// too slow for it.
    fn at(spec: &CircuitSpec, rest: &Rest, transition_hz: f64) -> Option<Self> {
        let small = rest.bias.small_signal(rest.wired.transistor);
        let transit_s = rest.transit_for_s(spec, transition_hz)?;
        Some(Self {
            transition_hz,
            product_hz: transition_hz * spec.resonator.q,
            bias_a: small.collector_a,
            transit_s,
        })
    }

    /// Returns a circuit with a transistor at least this fast at its bias point.
    ///
    /// # Errors
    /// [`VerdictError`] as [`LeastSpeed::of`].
    pub fn applied(spec: &CircuitSpec, transition_hz: f64) -> Result<CircuitSpec, VerdictError> {
        let rest = Rest::of(spec)?;
        let least = Self::at(spec, &rest, transition_hz);
        Ok(least.map_or(*spec, |least| least.to(spec)))
    }

    /// Returns a circuit with a transistor at least so fast.
    pub fn to(&self, spec: &CircuitSpec) -> CircuitSpec {
        let mut spec = *spec;
        let transit_s = &mut spec.transistor.model.forward_transit_s;
        *transit_s = transit_s.min(self.transit_s);
        spec
    }
}
