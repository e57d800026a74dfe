//! The circuit of a build as a network: battery and leads, primary at the collector, secondary from base to top.
//!
//! The topology is general knowledge of the trade. Where a value is not said it is the reference circuit's, each an assumption.

use std::f64::consts::TAU;

use super::network::{BranchId, DiodeId, Network, Node, TransistorId};
use crate::circuit::diode::Diode;
use crate::circuit::transistor::Transistor;

/// The bias resistor's name in the network.
pub(crate) const BIAS_NAME: &str = "BIAS";

/// A capacitor with its series resistance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Decoupling {
    /// In farads.
    pub farad: f64,
    /// In ohms.
    pub series_ohm: f64,
}

/// The battery and how it is joined.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Supply {
    /// Voltage with nothing drawn, in volts; negative if its clip is reversed.
    pub open_v: f64,
    /// Inner resistance, in ohms.
    pub battery_ohm: f64,
    /// Inductance of both leads, in henries.
    pub lead_h: f64,
    /// Resistance of both leads, in ohms.
    pub lead_ohm: f64,
    /// The capacitor across the supply, if there is one.
    pub decoupling: Option<Decoupling>,
}

impl Supply {
    /// A nine-volt battery behind 3 ohm on short leads with 100 nF: the reference circuit's, assumed.
    pub const USUAL: Self = Self {
        open_v: 9.0,
        battery_ohm: 3.0,
        lead_h: 0.2e-6,
        lead_ohm: 0.05,
        decoupling: Some(Decoupling {
            farad: 100e-9,
            series_ohm: 0.05,
        }),
    };
}

/// The primary with its leads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PrimaryCoil {
    /// In henries.
    pub henry: f64,
    /// In ohms.
    pub ohm: f64,
}

/// Something at the top that takes charge and power: a hand, a lamp, a probe.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TopLoad {
    /// Capacitance to the load, in farads.
    pub farad: f64,
    /// Resistance in series with it, in ohms; 0 for metal.
    pub ohm: f64,
}

/// The secondary as the foot sees it at one mode: three numbers and the way up.
///
/// For a real coil these are the mode's own values, not the inductance for direct current: the loop gain of a lumped coil
/// comes out 1.7 times too low.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resonator {
    /// Inductance, in henries.
    pub henry: f64,
    /// Capacitance that resonates with it, in farads.
    pub farad: f64,
    /// Quality factor of the winding alone at that resonance.
    pub q: f64,
    /// Coupling factor to the primary; negative if the primary is the wrong way round.
    pub coupling: f64,
    /// The top's voltage over the voltage at `farad`.
    pub foot_to_top: f64,
    /// The load at the top that is not in `farad`, if any.
    pub load: Option<TopLoad>,
}

impl Resonator {
    /// Returns the resonance of the winding alone, in hertz.
    pub fn resonance_hz(&self) -> f64 {
        1.0 / (TAU * (self.henry * self.farad).sqrt())
    }

    /// Returns the resonance with the load's capacitance, in hertz.
    pub fn loaded_hz(&self) -> f64 {
        let load_f = self
            .load
            .map_or(0.0, |load| load.farad * self.foot_to_top.powi(2));
        self.resonance_hz() / (1.0 + load_f / self.farad).sqrt()
    }

    /// Returns the series resistance, in ohms.
    pub fn ohm(&self) -> f64 {
        (self.henry / self.farad).sqrt() / self.q
    }

    /// Returns the mutual inductance with a primary, in henries.
    pub fn mutual_h(&self, primary: &PrimaryCoil) -> f64 {
        self.coupling * (self.henry * primary.henry).sqrt()
    }
}

/// Capacitance of the wiring to the battery's minus.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Strays {
    /// At the supply, in farads.
    pub supply_f: f64,
    /// At the collector, in farads.
    pub collector_f: f64,
    /// At the base, in farads.
    pub base_f: f64,
}

impl Strays {
    /// The reference circuit's, assumed.
    pub const USUAL: Self = Self {
        supply_f: 5e-12,
        collector_f: 10e-12,
        base_f: 5e-12,
    };
}

/// A transistor and where its junctions give way, which its model does not know.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RealTransistor {
    /// Its parameters.
    pub model: Transistor,
    /// Breakdown of base to emitter, in volts.
    pub emitter_breakdown_v: f64,
    /// Breakdown of collector to base, in volts.
    pub collector_breakdown_v: f64,
}

/// A circuit with its coil, in plain numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CircuitSpec {
    /// The battery.
    pub supply: Supply,
    /// From plus to base, in ohms.
    pub bias_ohm: f64,
    /// The primary.
    pub primary: PrimaryCoil,
    /// The secondary.
    pub resonator: Resonator,
    /// The transistor.
    pub transistor: RealTransistor,
    /// From minus to base, cathode at the base; `None` for nothing.
    pub base_diode: Option<Diode>,
    /// The wiring.
    pub strays: Strays,
}

/// A network and the places a person would measure at.
#[derive(Debug, Clone, PartialEq)]
pub struct Wired {
    /// The elements.
    pub network: Network,
    /// Where to look.
    pub probes: Probes,
    /// The transistor.
    pub transistor: TransistorId,
}

/// Where the figures of a running circuit are read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Probes {
    /// The battery's own branch: its current counts from plus through the battery to minus.
    pub battery: BranchId,
    /// The battery's plus.
    pub plus: Node,
    /// The transistor's base.
    pub base: Node,
    /// The transistor's collector.
    pub collector: Node,
    /// The top of the resonator.
    pub top: Node,
    /// The primary.
    pub primary: BranchId,
    /// The secondary, whose current has no steady part: cycles are counted on it.
    pub secondary: BranchId,
    /// The diode at the base.
    pub base_diode: Option<DiodeId>,
    /// The transistor.
    pub transistor: TransistorId,
    /// The diodes beside it where its junctions give way: part of it.
    pub breakdowns: [DiodeId; 2],
    /// The coil's top voltage over that at `top`.
    pub foot_to_top: f64,
}
