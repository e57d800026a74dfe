//! The reference circuit and its transistor sets as plain numbers: the same the netlists have.
//!
//! The sets are rounded values near published data, assumed; fT is about 400, 159 and 13 MHz.

use sagtrace::circuit::junction::Depletion;
use sagtrace::circuit::sets::LED;
use sagtrace::circuit::transistor::{Leak, Transistor, TransitRise};
use sagtrace::circuit::wiring::{
    CircuitSpec, PrimaryCoil, RealTransistor, Resonator, Strays, Supply,
};

const fn depletion(zero_bias_f: f64, built_in_v: f64, grading: f64) -> Depletion {
    Depletion {
        zero_bias_f,
        built_in_v,
        grading,
    }
}

/// A small switching type.
pub(crate) const S: Transistor = Transistor {
    saturation_a: 3e-14,
    forward_gain: 200.0,
    reverse_gain: 4.0,
    early_v: 100.0,
    knee_a: 0.5,
    emitter_leak: Leak::NONE,
    collector_leak: Leak::NONE,
    emitter_depletion: depletion(25e-12, 0.7, 0.35),
    collector_depletion: depletion(9e-12, 0.6, 0.33),
    forward_transit_s: 0.4e-9,
    transit_rise: TransitRise::NONE,
    reverse_transit_s: 50e-9,
    base_ohm: 5.0,
    collector_ohm: 0.4,
    emitter_ohm: 0.1,
};

/// A medium type.
pub(crate) const M: Transistor = Transistor {
    saturation_a: 1e-13,
    forward_gain: 120.0,
    reverse_gain: 5.0,
    knee_a: 1.0,
    emitter_depletion: depletion(120e-12, 0.7, 0.35),
    collector_depletion: depletion(30e-12, 0.6, 0.33),
    forward_transit_s: 1e-9,
    reverse_transit_s: 150e-9,
    base_ohm: 3.0,
    collector_ohm: 0.15,
    emitter_ohm: 0.05,
    ..S
};

/// A TO-220 power type.
pub(crate) const PT: Transistor = Transistor {
    saturation_a: 1e-12,
    forward_gain: 60.0,
    knee_a: 2.5,
    emitter_depletion: depletion(400e-12, 0.7, 0.35),
    collector_depletion: depletion(120e-12, 0.6, 0.4),
    forward_transit_s: 12e-9,
    reverse_transit_s: 1e-6,
    base_ohm: 1.5,
    collector_ohm: 0.08,
    emitter_ohm: 0.03,
    ..M
};

/// The reference circuit with a transistor, a coupling and a quality factor.
pub(crate) fn circuit(model: Transistor, coupling: f64, q: f64) -> CircuitSpec {
    CircuitSpec {
        supply: Supply::USUAL,
        bias_ohm: 22e3,
        primary: PrimaryCoil {
            henry: 0.6e-6,
            ohm: 0.05,
        },
        resonator: Resonator {
            henry: 300e-6,
            farad: 7e-12,
            q,
            coupling,
            foot_to_top: 1.0,
            load: None,
        },
        transistor: RealTransistor {
            model,
            emitter_breakdown_v: 6.0,
            collector_breakdown_v: 80.0,
        },
        base_diode: Some(LED),
        strays: Strays::USUAL,
    }
}
