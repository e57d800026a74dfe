//! The circuit that drives the coil: one transistor, a bias resistor, a diode at the base.

pub mod bias;
pub mod diode;
mod elimination;
pub mod junction;
pub mod margin;
pub mod netlist;
pub mod network;
pub mod parts;
pub mod rule;
pub mod running;
pub mod sets;
pub mod startup;
pub mod stepper;
mod system;
pub mod transistor;
pub mod wiring;

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
