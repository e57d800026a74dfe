//! The circuit that drives the coil: one transistor, a bias resistor, a diode at the base.

pub mod parts;

use parts::{BaseDiode, TransistorClass};

/// The circuit as built.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Circuit {
    /// The transistor's class.
    pub transistor: TransistorClass,
    /// From the battery's plus to the base, in ohm.
    pub bias_resistor_ohm: f64,
    /// At the base.
    pub base_diode: BaseDiode,
    /// Across the supply, in farad; `None` if there is no capacitor.
    pub decoupling_f: Option<f64>,
}
