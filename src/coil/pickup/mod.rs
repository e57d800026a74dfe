//! A pick-up near the coil, and the voltage that an instrument's input sees of it.
//!
//! A **stub** is a short wire, open at its end, that points at the coil and drives the input through a fraction of a picofarad. A
//! **loop** is closed and sees the change of the magnetic flux. `words` reads a person's text, `wires` has the charges on the
//! stub and the lead behind it, `signal` joins them to one build.
//!
//! The coil's charges and currents are those of the ring model's mode; pick-up, lead and cable are far shorter than the
//! wavelength. The pick-up does not change the mode, so that its own effect on the resonance is of first order. The
//! primary's current, other metal and people are not counted. Nothing of it was measured.

mod signal;
mod wires;
mod words;

use std::f64::consts::TAU;

use super::field::{FieldError, Line};
use crate::units::{Unit, rounded};

pub use signal::{Reached, Signal, Top, pick_up};
pub use words::WordsError;

/// Diameter of the wire that stubs and loops are taken to be of, in metres: chosen, hook-up wire.
pub const WIRE_M: f64 = 1e-3;

/// Length of the screened lead, or of the probe with its cable, behind a pick-up, in metres: chosen, common practice.
pub const LEAD_M: f64 = 1.0;

/// Its diameter over the screen, in metres: chosen, common practice.
pub const LEAD_THICK_M: f64 = 4e-3;

/// The kind of a pick-up.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// A straight wire that points at the coil, level with its top.
    Stub {
        /// Its length, in metres.
        length_m: f64,
    },
    /// A closed loop across the coil's own direction, level with the winding's middle.
    Loop {
        /// Its diameter, in metres.
        diameter_m: f64,
        /// Number of turns.
        turns: u32,
    },
}

/// A pick-up beside the coil.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PickUp {
    /// Its kind.
    pub kind: Kind,
    /// From the coil to its nearest point, in metres.
    pub distance_m: f64,
}

impl PickUp {
    /// Allowed lengths of a stub and diameters of a loop, in metres. Chosen: a shorter one is all end, a longer one is an aerial.
    pub const SIZES_M: std::ops::RangeInclusive<f64> = 0.01..=0.5;

    /// Allowed distances, in metres.
    pub const DISTANCES_M: std::ops::RangeInclusive<f64> = Line::NEAREST_M..=Line::FARTHEST_M;

    /// Most turns of a loop. Chosen: more resonate with the input near the coil's own frequency.
    pub const MOST_TURNS: u32 = 20;
}

/// An instrument's input.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Input {
    /// Its resistance, in ohms.
    pub ohm: f64,
    /// Its capacitance with all that is parallel to it, in farads.
    pub farad: f64,
}

impl Input {
    /// The input of a counter or oscilloscope, or the tip of a probe: chosen, common practice.
    pub const USUAL: Self = Self {
        ohm: 1e6,
        farad: 15e-12,
    };

    /// Allowed resistances, in ohms: chosen.
    pub const OHMS: std::ops::RangeInclusive<f64> = 1.0..=1e9;

    /// Allowed capacitances, in farads: chosen, no more than some metres of cable.
    pub const FARADS: std::ops::RangeInclusive<f64> = 0.0..=10e-9;

    /// Returns the share that it sees of a voltage behind a capacitor: the divider of the two.
    pub(crate) fn behind_farad(&self, farad: f64, frequency_hz: f64) -> f64 {
        let omega_ohm = TAU * frequency_hz * self.ohm;
        omega_ohm * farad / (omega_ohm * (farad + self.farad)).hypot(1.0)
    }

    /// Returns the share that it sees of a voltage behind an inductance, which it resonates with.
    pub(crate) fn behind_henry(&self, henry: f64, frequency_hz: f64) -> f64 {
        let omega = TAU * frequency_hz;
        let reactive = 1.0 - omega * omega * henry * self.farad;
        1.0 / reactive.hypot(omega * henry / self.ohm)
    }
}

/// Why there is no answer for a pick-up.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum PickUpError {
    /// There is no field.
    #[error(transparent)]
    Field(#[from] FieldError),
    /// It is beyond where the field is that of the coil's charges.
    #[error("pick-up: found it {} away, expected up to {} at {}",
        rounded(*.found_m, Unit::Metre, 2), rounded(*.farthest_m, Unit::Metre, 2), rounded(*.frequency_hz, Unit::Hertz, 2))]
    TooFar {
        /// Its distance, in metres.
        found_m: f64,
        /// The farthest allowed, in metres.
        farthest_m: f64,
        /// The resonance that sets it, in hertz.
        frequency_hz: f64,
    },
    /// The charges on its wires have no stable answer.
    #[error("pick-up: found no stable charges on its wires, expected another length or distance")]
    Crowded,
}

#[cfg(test)]
mod tests;
