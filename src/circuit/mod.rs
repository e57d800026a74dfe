//! The circuit that drives the coil: one transistor, a bias resistor, a diode at the base.

pub mod bias;
mod cycle;
pub mod damage;
pub mod diode;
mod elimination;
pub mod junction;
pub mod margin;
pub mod netlist;
pub mod network;
pub mod outlook;
pub mod parts;
pub mod pushing;
pub mod rule;
pub mod running;
pub mod sets;
pub mod startup;
pub mod stepper;
mod system;
pub mod transistor;
pub mod verdict;
pub mod wiring;

use parts::{BaseDiode, TransistorClass};
use sets::Spread;
use wiring::{CircuitSpec, Decoupling, PrimaryCoil, Resonator, Strays, Supply};

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

impl Circuit {
    /// The circuit with its coil at one end of the parts' spread; the coil's numbers are the caller's, worst to best for
    /// starting as the spread says.
    ///
    /// The battery's `decoupling` is replaced by the circuit's own, its series resistance as the reference circuit's.
    pub fn spec(
        &self,
        spread: Spread,
        supply: Supply,
        primary: PrimaryCoil,
        resonator: Resonator,
    ) -> CircuitSpec {
        let series_ohm = Supply::USUAL.decoupling.map_or(0.0, |d| d.series_ohm);
        let decoupling = self
            .decoupling_f
            .map(|farad| Decoupling { farad, series_ohm });
        CircuitSpec {
            supply: Supply {
                decoupling,
                ..supply
            },
            bias_ohm: self.bias_resistor_ohm,
            primary,
            resonator,
            transistor: self.transistor.transistor(spread),
            base_diode: self.base_diode.diode(),
            strays: Strays::USUAL,
        }
    }
}
