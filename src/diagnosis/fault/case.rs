//! One circuit with one fault.

use crate::circuit::flaws::{Flaws, Places};
use crate::circuit::wiring::{CircuitSpec, Wired};

use crate::diagnosis::quantity::Seen;

/// A circuit and its departures from the drawing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Case {
    /// The parts.
    pub spec: CircuitSpec,
    /// The flaws.
    pub flaws: Flaws,
    /// The secondary's resistance to direct current over that of the build.
    pub dc_ratio: f64,
    /// The object that touches it or stands near.
    pub near: Seen,
    /// A converter in the battery that has tripped.
    pub trip: Option<Trip>,
    /// The lowest of its batteries' own voltages, in volts; `None` where all are alike.
    pub weakest_v: Option<f64>,
}

/// A battery whose converter has switched off under the circuit's load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trip {
    /// Its voltage with nothing joined, in volts.
    pub open_v: f64,
    /// How often it tries again, as a period in seconds; `None` if it stays off.
    pub period_s: Option<f64>,
}

impl Case {
    /// Creates a sound circuit.
    pub const fn sound(spec: CircuitSpec) -> Self {
        Self {
            spec,
            flaws: Flaws::NONE,
            dc_ratio: 1.0,
            near: Seen::Nothing,
            trip: None,
            weakest_v: None,
        }
    }

    /// Returns its network.
    pub fn wired(&self) -> (Wired, Places) {
        self.spec.wired_with(&self.flaws)
    }
}
