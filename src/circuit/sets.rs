//! What is known of each class of part: parameters at their worst, typical and best for starting, each with its source.
//!
//! Worst and best are meant together: no single part is worst in everything.

use super::diode::{Breakdown, Diode};
use super::junction::Depletion;
use super::parts::{BaseDiode, TransistorClass};
use super::transistor::{Leak, Transistor, TransitRise};
use super::wiring::RealTransistor;

/// Which end of the parts' spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Spread {
    /// Worst for starting.
    Worst,
    /// What to expect.
    Typical,
    /// Best for starting.
    Best,
}

impl Spread {
    /// From worst to best.
    pub const ALL: [Self; 3] = [Self::Worst, Self::Typical, Self::Best];

    const fn of<T: Copy>(self, [worst, typical, best]: [T; 3]) -> T {
        match self {
            Self::Worst => worst,
            Self::Typical => typical,
            Self::Best => best,
        }
    }
}

/// The loaded quality factor where it was neither measured nor can be computed with its former and enamel.
///
/// Worst and best assumed (copper alone comes to about 240 in the classes of coil here); typical tuned to reports of
/// running builds, no source.
pub const fn loaded_q(spread: Spread) -> f64 {
    spread.of([60.0, 150.0, 180.0])
}

/// A class's figures; each triple is worst, typical, best for starting.
struct Class {
    saturation_a: f64,
    gain: [f64; 3],
    reverse_gain: f64,
    knee_a: f64,
    emitter_f: [f64; 3],
    collector_f: [f64; 3],
    built_in_v: (f64, f64),
    grading: (f64, f64),
    transit_s: [f64; 3],
    rise: [TransitRise; 3],
    reverse_transit_s: [f64; 3],
    base_ohm: [f64; 3],
    collector_ohm: f64,
    emitter_ohm: f64,
    collector_breakdown_v: f64,
    /// Collector to emitter, by the data sheet, and collector current at most.
    ratings: (f64, f64),
    source: &'static str,
}

/// The small class.
///
/// Data sheet of the registered type 2N2222A (preliminary 3/96): hFE 100 to 300 at 150 mA, fT at least 300 MHz, output
/// capacitance at most 8 pF, input capacitance at most 25 pF, 40 V collector to emitter, 75 V collector to base, 6 V emitter to base; its published model
/// file: transit time 0.411 ns, CJE 22 pF, CJC 7.3 pF, TR 46.9 ns, RB 10 ohm. Reverse gain, knee, emitter resistance and
/// 0.8 A: assumed or from memory.
const SMALL: Class = Class {
    saturation_a: 3e-14,
    gain: [100.0, 200.0, 300.0],
    reverse_gain: 4.0,
    knee_a: 0.5,
    emitter_f: [25e-12, 25e-12, 22e-12],
    collector_f: [13e-12, 9e-12, 7.3e-12],
    built_in_v: (0.7, 0.6),
    grading: (0.35, 0.33),
    transit_s: [0.53e-9, 0.4e-9, 0.35e-9],
    rise: [TransitRise::NONE; 3],
    reverse_transit_s: [50e-9, 50e-9, 46.9e-9],
    base_ohm: [10.0, 5.0, 5.0],
    collector_ohm: 0.4,
    emitter_ohm: 0.1,
    collector_breakdown_v: 75.0,
    ratings: (40.0, 0.8),
    source: "data sheet (preliminary 3/96) and published model file of the type 2N2222A; the rest assumed",
};

/// The medium class.
///
/// A published model file of a 1.5 A TO-126 part: IS 4.8e-14, gain 124, knee 1.6 A, CJE 124 pF, CJC 30 pF, TF 0.65 ns. The
/// typical values are rounded to lie near it, on the slow side; gain 40 to 250 and the transit times' spread are assumed,
/// 45 V and 1.5 A from memory.
const MEDIUM: Class = Class {
    saturation_a: 1e-13,
    gain: [63.0, 120.0, 250.0],
    reverse_gain: 5.0,
    knee_a: 1.0,
    emitter_f: [160e-12, 120e-12, 100e-12],
    collector_f: [40e-12, 30e-12, 20e-12],
    built_in_v: (0.7, 0.6),
    grading: (0.35, 0.33),
    transit_s: [3e-9, 1e-9, 0.65e-9],
    rise: [TransitRise::NONE; 3],
    reverse_transit_s: [150e-9; 3],
    base_ohm: [5.0, 3.0, 1.0],
    collector_ohm: 0.15,
    emitter_ohm: 0.05,
    collector_breakdown_v: 80.0,
    ratings: (45.0, 1.5),
    source: "a published model file of a 1.5 A TO-126 type; spread assumed",
};

/// Crowding of the power classes: worst from a published file of a 6 A type, typical from one of a 10 A type.
const POWER_RISE: [TransitRise; 3] = [
    TransitRise {
        ratio: 4.0,
        scale_v: 7.0,
        scale_a: 1e-3,
    },
    TransitRise {
        ratio: 1.2,
        scale_v: 10.0,
        scale_a: 36.0,
    },
    TransitRise::NONE,
];

/// The TO-220 power class.
///
/// Published model files of 3 to 10 A types of the class: gain 62 to 122 at 25 to 100 mA, CJC 110 to 500 pF, CJE 193 to
/// 433 pF, RB 0.1 to 16 ohm, TR 0.09 to 9.6 us, and fT from 1.6 to 6 MHz. A hobby magazine's maker measured about 1 nF from
/// base to emitter. With those transit times three turns do not start, while builds of just this class run: fT 4 MHz (worst) is the files',
/// 15 MHz (typical) is tuned to reports, no source, 20 MHz (best) assumed. CJC: files. Gain 150: assumed. 60 V and 10 A from memory.
const POWER_TO220: Class = Class {
    saturation_a: 1e-12,
    gain: [60.0, 110.0, 150.0],
    reverse_gain: 5.0,
    knee_a: 2.5,
    emitter_f: [1000e-12, 430e-12, 400e-12],
    collector_f: [500e-12, 280e-12, 120e-12],
    built_in_v: (0.7, 0.6),
    grading: (0.35, 0.4),
    transit_s: [40e-9, 10e-9, 8e-9],
    rise: POWER_RISE,
    reverse_transit_s: [1.4e-6, 1e-6, 0.1e-6],
    base_ohm: [5.0, 1.0, 0.1],
    collector_ohm: 0.08,
    emitter_ohm: 0.03,
    collector_breakdown_v: 80.0,
    ratings: (60.0, 10.0),
    source: "published model files of 3 to 10 A TO-220 types; typical speed tuned to reports of running builds, no source",
};

/// The TO-3 power class.
///
/// Published model files of a 15 A type: TF 39 and 100 ns, CJE 415 and 569 pF, CJC 276 and 1000 pF, RB 0.1 and 0.81 ohm, TR
/// 0.57 and 0.97 us, gain 49 to 89. Its data sheet's least fT is 2.5 MHz; an encyclopaedia calls 6 MHz typical of the faster version. Best
/// is assumed at twice that. 60 V and 15 A from memory.
const POWER_TO3: Class = Class {
    saturation_a: 1e-12,
    gain: [50.0, 80.0, 120.0],
    reverse_gain: 5.0,
    knee_a: 4.0,
    emitter_f: [1200e-12, 570e-12, 415e-12],
    collector_f: [1000e-12, 280e-12, 276e-12],
    built_in_v: (0.7, 0.6),
    grading: (0.35, 0.4),
    transit_s: [100e-9, 26e-9, 13e-9],
    rise: [TransitRise::NONE; 3],
    reverse_transit_s: [1e-6, 0.97e-6, 0.57e-6],
    base_ohm: [1.0, 0.5, 0.1],
    collector_ohm: 0.08,
    emitter_ohm: 0.03,
    collector_breakdown_v: 100.0,
    ratings: (60.0, 15.0),
    source: "two published model files of a 15 A TO-3 type, an encyclopaedia's 6 MHz; best assumed",
};

const fn class(class: TransistorClass) -> &'static Class {
    match class {
        TransistorClass::SmallSignal => &SMALL,
        TransistorClass::Medium => &MEDIUM,
        TransistorClass::PowerTo220 => &POWER_TO220,
        TransistorClass::PowerTo3 => &POWER_TO3,
    }
}

/// What a class's parts bear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ratings {
    /// Collector to emitter, in volt.
    pub collector_v: f64,
    /// Collector current, in ampere.
    pub collector_a: f64,
    /// Emitter to base in reverse, in volt.
    pub reverse_base_v: f64,
}

impl TransistorClass {
    /// The transistor of this class at one end of its spread.
    pub const fn transistor(self, spread: Spread) -> RealTransistor {
        let c = class(self);
        RealTransistor {
            model: Transistor {
                saturation_a: c.saturation_a,
                forward_gain: spread.of(c.gain),
                reverse_gain: c.reverse_gain,
                early_v: 100.0,
                knee_a: c.knee_a,
                emitter_leak: Leak::NONE,
                collector_leak: Leak::NONE,
                emitter_depletion: Depletion {
                    zero_bias_f: spread.of(c.emitter_f),
                    built_in_v: c.built_in_v.0,
                    grading: c.grading.0,
                },
                collector_depletion: Depletion {
                    zero_bias_f: spread.of(c.collector_f),
                    built_in_v: c.built_in_v.1,
                    grading: c.grading.1,
                },
                forward_transit_s: spread.of(c.transit_s),
                transit_rise: spread.of(c.rise),
                reverse_transit_s: spread.of(c.reverse_transit_s),
                base_ohm: spread.of(c.base_ohm),
                collector_ohm: c.collector_ohm,
                emitter_ohm: c.emitter_ohm,
            },
            // Data sheets promise 5 to 6 V; real parts give way at 6 to 9 V (from memory).
            emitter_breakdown_v: 6.0,
            collector_breakdown_v: c.collector_breakdown_v,
        }
    }

    /// What its parts bear, by their data sheets or from memory.
    pub const fn ratings(self) -> Ratings {
        let (collector_v, collector_a) = class(self).ratings;
        Ratings {
            collector_v,
            collector_a,
            reverse_base_v: 5.0,
        }
    }

    /// Where the class's figures come from, in a line.
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
    /// The diode of this kind.
    pub const fn diode(self) -> Option<Diode> {
        match self {
            Self::Led => Some(LED),
            Self::Silicon => Some(SILICON),
            Self::None => None,
        }
    }
}
