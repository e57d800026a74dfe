//! One circuit with one fault.

use crate::circuit::flaws::{Flaws, Places};
use crate::circuit::wiring::{CircuitSpec, Wired};

use super::quantity::Seen;

/// A circuit and what is not as drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Case {
    /// The parts.
    pub spec: CircuitSpec,
    /// The flaws.
    pub flaws: Flaws,
    /// The secondary's resistance to direct current over that of the build.
    pub dc_ratio: f64,
    /// What touches it or stands near.
    pub near: Seen,
}

impl Case {
    /// A sound circuit.
    pub const fn sound(spec: CircuitSpec) -> Self {
        Self {
            spec,
            flaws: Flaws::NONE,
            dc_ratio: 1.0,
            near: Seen::Nothing,
        }
    }

    /// Its network.
    pub fn wired(&self) -> (Wired, Places) {
        self.spec.wired_with(&self.flaws)
    }
}
