//! The circuit that drives the coil: one transistor, a bias resistor, a diode at the base.

mod devices;
mod judge;
mod run;
mod schematic;
mod solve;
mod start;

pub use devices::{diode, heat, junction, parts, practice, sets, transistor};
pub use judge::{damage, hazards, outlook, supply, verdict};
pub(crate) use run::wild;
pub use run::{pushing, running, shown};
pub use schematic::{flaws, netlist, network, wiring};
pub use solve::{bias, stepper};
pub use start::{margin, rest, rule, startup};

use parts::{BaseDiode, TransistorClass};
use practice::PartSet;
use transistor::Transistor;
use wiring::{CircuitSpec, Decoupling, PrimaryCoil, RealTransistor, Resonator, Strays, Supply};

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
    /// The transistor's current gain as measured on it; `None` for its class's range.
    pub gain: Option<f64>,
    /// The transistor's transition frequency, in hertz, as its maker or a measurement has it; `None` for its class's range.
    pub transition_hz: Option<f64>,
}

impl Circuit {
    /// The transistor's figures: those of a set of its class, with what is known of this one in their place.
    ///
    /// The transition frequency well above the depletion charges' reach is 1/(2π·transit time) (Gray and Meyer, from memory).
    fn figures(&self, set: &PartSet) -> RealTransistor {
        let class = self.transistor.transistor(set);
        let transit_s = |hertz: f64| 1.0 / (std::f64::consts::TAU * hertz);
        let model = Transistor {
            forward_gain: self.gain.unwrap_or(class.model.forward_gain),
            forward_transit_s: self
                .transition_hz
                .map_or(class.model.forward_transit_s, transit_s),
            ..class.model
        };
        RealTransistor { model, ..class }
    }

    /// The circuit with a set of its class's parts; the coil's numbers are the caller's.
    ///
    /// The battery's `decoupling` is replaced by the circuit's own, its series resistance as the reference circuit's.
    pub fn spec(
        &self,
        set: &PartSet,
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
            transistor: self.figures(set),
            base_diode: self.base_diode.diode().map(|diode| match self.base_diode {
                BaseDiode::Led => set.led(diode),
                BaseDiode::Silicon | BaseDiode::None => diode,
            }),
            strays: Strays::USUAL,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::practice::Spread;
    use super::*;

    #[test]
    fn what_is_known_of_a_transistor_takes_its_class_place() {
        let circuit = |gain, transition_hz| Circuit {
            transistor: TransistorClass::PowerTo220,
            bias_resistor_ohm: 22e3,
            base_diode: BaseDiode::Led,
            decoupling_f: None,
            gain,
            transition_hz,
        };
        let worst = TransistorClass::PowerTo220.part_set(Spread::Worst);
        let class = TransistorClass::PowerTo220.transistor(&worst);
        assert_eq!(circuit(None, None).figures(&worst), class);
        let known = circuit(Some(120.0), Some(13e6)).figures(&worst).model;
        // 1/(2π · 13 MHz) = 12.243 ns.
        assert!((known.forward_transit_s - 12.243e-9).abs() < 1e-12);
        assert_eq!(known.forward_gain.to_bits(), 120.0_f64.to_bits());
        let (forward_gain, forward_transit_s) =
            (class.model.forward_gain, class.model.forward_transit_s);
        assert_eq!(
            Transistor {
                forward_gain,
                forward_transit_s,
                ..known
            },
            class.model
        );
    }
}
