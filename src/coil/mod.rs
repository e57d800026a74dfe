//! The wound coil: what it is made of and where it should resonate.

mod interpolate;
mod root;

pub mod band;
pub mod doubt;
pub mod elliptic;
pub mod field;
pub mod figures;
pub mod film;
pub mod fit;
pub mod former;
pub mod good_day;
pub mod handbook;
pub mod inductance;
pub mod loss;
pub mod ohms;
pub mod pickup;
pub mod predict;
pub mod prediction;
pub mod proximity;
pub mod rings;
pub mod self_capacitance;
pub mod setup;
pub mod spec;
pub mod surroundings;
pub mod wanted;
pub mod winding;
pub mod wire;

/// A resonance as a model gives it: a value and a band, never one number.
#[derive(Debug, Clone, PartialEq)]
pub struct Resonance {
    /// The model's own value, in hertz.
    pub value_hz: f64,
    /// The band's lower edge, in hertz.
    pub low_hz: f64,
    /// The band's upper edge, in hertz.
    pub high_hz: f64,
    /// How the value came about, in words fit for a legend: `"handbook route"`, `"measured"`.
    pub route: String,
}
