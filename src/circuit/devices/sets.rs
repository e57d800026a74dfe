//! The figures known of each class of part, each with its source; those that practice weighs come in sets.

use super::diode::{Breakdown, Diode};
use super::junction::Depletion;
use super::parts::{BaseDiode, TransistorClass};
use super::practice::PartSet;
use super::transistor::{Leak, Transistor, TransitRise};
use crate::circuit::wiring::RealTransistor;

/// A class's figures that no practice weighs; the others are drawn in sets ([`PartSet`]).
struct Class {
    saturation_a: f64,
    reverse_gain: f64,
    knee_a: f64,
    built_in_v: (f64, f64),
    grading: (f64, f64),
    collector_ohm: f64,
    emitter_ohm: f64,
    /// Collector to emitter at most, by the data sheet.
    rated_v: f64,
    /// Collector current at most.
    rated_a: f64,
    source: &'static str,
}

/// The small class.
///
/// Knee, reverse gain, emitter resistance and 0.8 A: assumed or from memory. 40 V: data sheet of the registered type 2N2222A
/// (preliminary 3/96).
const SMALL: Class = Class {
    saturation_a: 3e-14,
    reverse_gain: 4.0,
    knee_a: 0.5,
    built_in_v: (0.7, 0.6),
    grading: (0.35, 0.33),
    collector_ohm: 0.4,
    emitter_ohm: 0.1,
    rated_v: 40.0,
    rated_a: 0.8,
    source: "data sheet (preliminary 3/96) and published model file of the type 2N2222A, weighed by builds that run",
};

/// The medium class: near a published model file of a 1.5 A TO-126 part (IS 4.8e-14, knee 1.6 A); 45 V and 1.5 A from memory.
const MEDIUM: Class = Class {
    saturation_a: 1e-13,
    reverse_gain: 5.0,
    knee_a: 1.0,
    built_in_v: (0.7, 0.6),
    grading: (0.35, 0.33),
    collector_ohm: 0.15,
    emitter_ohm: 0.05,
    rated_v: 45.0,
    rated_a: 1.5,
    source: "a published model file of a 1.5 A TO-126 type and an assumed spread, weighed by builds that run",
};

/// The TO-220 power class: near published model files of 3 to 10 A types; 60 V and 10 A from memory.
const POWER_TO220: Class = Class {
    saturation_a: 1e-12,
    reverse_gain: 5.0,
    knee_a: 2.5,
    built_in_v: (0.7, 0.6),
    grading: (0.35, 0.4),
    collector_ohm: 0.08,
    emitter_ohm: 0.03,
    rated_v: 60.0,
    rated_a: 10.0,
    source: "from published model files of 3 to 10 A TO-220 types to fast parts, weighed by builds that run",
};

/// The TO-3 power class: near two published model files of a 15 A type; 60 V and 15 A from memory.
const POWER_TO3: Class = Class {
    saturation_a: 1e-12,
    reverse_gain: 5.0,
    knee_a: 4.0,
    built_in_v: (0.7, 0.6),
    grading: (0.35, 0.4),
    collector_ohm: 0.08,
    emitter_ohm: 0.03,
    rated_v: 60.0,
    rated_a: 15.0,
    source: "two published model files of a 15 A TO-3 type, an encyclopaedia's 6 MHz; best assumed",
};

/// The collector voltage that lessens the crowding of every class, in volts: between 7 and 10 V of two published files.
const RISE_V: f64 = 8.0;

const fn class(class: TransistorClass) -> &'static Class {
    match class {
        TransistorClass::SmallSignal => &SMALL,
        TransistorClass::Medium => &MEDIUM,
        TransistorClass::PowerTo220 => &POWER_TO220,
        TransistorClass::PowerTo3 => &POWER_TO3,
    }
}

/// The limits that a class's parts bear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratings {
    /// Collector to emitter, in volts.
    pub collector_v: f64,
    /// Collector current, in amperes.
    pub collector_a: f64,
    /// Emitter to base in reverse, in volts.
    pub reverse_base_v: f64,
}

impl TransistorClass {
    /// Returns the transistor of this class with a set's figures.
    pub const fn transistor(self, set: &PartSet) -> RealTransistor {
        let c = class(self);
        RealTransistor {
            model: Transistor {
                saturation_a: c.saturation_a,
                forward_gain: set.gain,
                reverse_gain: c.reverse_gain,
                early_v: 100.0,
                knee_a: c.knee_a,
                emitter_leak: Leak::NONE,
                collector_leak: Leak::NONE,
                emitter_depletion: Depletion {
                    zero_bias_f: set.emitter_f,
                    built_in_v: c.built_in_v.0,
                    grading: c.grading.0,
                },
                collector_depletion: Depletion {
                    zero_bias_f: set.collector_f,
                    built_in_v: c.built_in_v.1,
                    grading: c.grading.1,
                },
                forward_transit_s: set.transit_s,
                transit_rise: TransitRise {
                    ratio: set.rise_ratio,
                    scale_v: RISE_V,
                    scale_a: set.rise_a,
                },
                reverse_transit_s: set.reverse_transit_s,
                base_ohm: set.base_ohm,
                collector_ohm: c.collector_ohm,
                emitter_ohm: c.emitter_ohm,
            },
            // Data sheets promise 5 to 6 V; real parts give way at 6 to 9 V (from memory).
            emitter_breakdown_v: 6.0,
            collector_breakdown_v: set.collector_breakdown_v,
        }
    }

    /// Returns the limits that its parts bear, by their data sheets or from memory.
    pub const fn ratings(self) -> Ratings {
        let c = class(self);
        Ratings {
            collector_v: c.rated_v,
            collector_a: c.rated_a,
            reverse_base_v: 5.0,
        }
    }

    /// Returns where the class's figures come from, in a line.
    pub const fn source(self) -> &'static str {
        class(self).source
    }
}

/// A light-emitting diode: about 1.7 V at 10 mA. All assumed, near published files of red types from memory.
pub const LED: Diode = Diode {
    saturation_a: 5e-17,
    ideality: 2.0,
    series_ohm: 5.0,
    depletion: Depletion {
        zero_bias_f: 40e-12,
        built_in_v: 1.0,
        grading: 0.5,
    },
    transit_s: 20e-9,
    breakdown: Some(Breakdown {
        voltage_v: 30.0,
        current_a: 1e-3,
    }),
};

/// A silicon switching diode. All assumed.
pub const SILICON: Diode = Diode {
    saturation_a: 4e-9,
    ideality: 1.9,
    series_ohm: 0.6,
    depletion: Depletion {
        zero_bias_f: 3e-12,
        built_in_v: 0.7,
        grading: 0.4,
    },
    transit_s: 6e-9,
    breakdown: Some(Breakdown {
        voltage_v: 75.0,
        current_a: 1e-3,
    }),
};

impl BaseDiode {
    /// Returns the diode of this kind.
    pub const fn diode(self) -> Option<Diode> {
        match self {
            Self::Led => Some(LED),
            Self::Silicon => Some(SILICON),
            Self::None => None,
        }
    }
}
