//! The wound coil: what it is made of and where it should resonate.

mod built;
pub mod field;
pub mod figures;
pub mod inductance;
mod losses;
mod model;
mod numeric;
pub mod pickup;
pub mod rings;
mod search;

pub use built::{film, former, setup, spec, surroundings, winding, wire};
pub use losses::{loss, proximity};
pub use model::{band, handbook, predict, prediction, self_capacitance};
pub use numeric::elliptic;
pub use search::{fit, good_day, wanted};

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
