//! The circuit that drives the coil: one transistor, a bias resistor, a diode at the base.
//!
//! | file | holds |
//! |---|---|
//! | `schematic::{network, wiring}` | elements between nodes; a build's circuit as one |
//! | `devices::{transistor, diode, junction}` | the devices in charge form, with slopes (tested as slopes) |
//! | `solve::{system, point, slots, elimination}` | the equations `dq(x)/dt + f(x, t) = 0`; a sparse order found once, used for real and complex matrices |
//! | `solve::bias`, `start::startup` | where it rests; the oscillations that grow from there: the eigenvalues of `-G^-1 C` |
//! | `start::{margin, threshold, moving}` | where each quantity just starts it. Newton's method on the secondary's loop: the impedance Z(jω) that its current meets is zero there; slopes from one transposed solution. Each threshold is confirmed by eigenvalues, else the range is searched |
//! | `solve::stepper`, `run::{running, cycle}` | the transient (TR-BDF2, error-controlled) and the figures read off it cycle by cycle |
//! | `devices::practice` with `practice.csv` | each class's sets of parts, equally probable, weighed by how common builds run (`tests/references/practice.md` has the facts, ranges and weights; `cargo bench --bench practice` computes the table anew); TO-3 is not weighed |
//! | `devices::sets`, `judge::verdict`, `start::rule` | worst, typical, best parts, about the fifth, fiftieth and ninety-fifth of a hundred of those sets; starts, marginal or no; the loop's gain in a line |
//! | `run::wild` | when a collector that rings on its own has become as steady as it will; the diagnosis has the same test |
//! | `run::pushing` | down through the battery's voltages out of a running start |
//! | `run::shown` | the transistor's speed by "it runs" |
//! | `devices::heat`, `judge::damage` | thermal resistances with their sources; the overloaded parts |
//! | `judge::supply` | the supply current over the sets, weak runs included: the one source of it for every report |
//! | `judge::hazards` | hazards of a build to people and parts, ranked, with the supply for standing measurements; all words in `report/hazards` |
//!
//! The three answers have three grounds: eigenvalues (starts at all), transients (how it runs, which of the two states), the
//! loop's gain (explanation, and the bound below which a best set is hopeless). Thresholds are not a search for the full state: a
//! margin above 1 starts, and 2.1 to 2.8 times the speed that just starts ran fully in every run of a grid of eighty.
//!
//! Its reference figures are growth rates, bias points and running netlists of ngspice 39 (`tests/model/circuit_start.rs`,
//! `tests/model/circuit.rs`, `tests/references/circuit-*.csv`; with feature `live` the same netlists are run beside ours). The
//! study they come from had two slips, which our rows correct and name: the growth of netlist Q3 is 2.197e5 per second (printed
//! as 1.621e5), and the fast set has a least coupling, 0.0038 (printed as none). Thresholds are an earlier computation's of our
//! own and count as regressions; that the growth changes its sign at each is tested by eigenvalues.

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
    /// From the battery's plus to the base, in ohms.
    pub bias_resistor_ohm: f64,
    /// At the base.
    pub base_diode: BaseDiode,
    /// Across the supply, in farads; `None` if there is no capacitor.
    pub decoupling_f: Option<f64>,
    /// The transistor's current gain as measured on it; `None` for its class's range.
    pub gain: Option<f64>,
    /// The transistor's transition frequency, in hertz, as its maker or a measurement has it; `None` for its class's range.
    pub transition_hz: Option<f64>,
}

impl Circuit {
    /// Returns the transistor's figures: those of a set of its class, with the known ones of this transistor in their place.
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

    /// Returns the circuit with a set of its class's parts; the coil's numbers are the caller's.
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
