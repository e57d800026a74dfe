//! The wound coil: its parts and its expected resonance.

mod built;
pub mod field;
pub mod figures;
pub mod inductance;
mod losses;
mod model;
mod numeric;
pub mod pickup;
mod resonance;
pub mod rings;
mod search;

pub use built::{film, former, setup, spec, surroundings, winding, wire};
pub use losses::{loss, proximity};
pub use model::{band, handbook, predict, prediction, self_capacitance};
pub use numeric::elliptic;
pub use resonance::{Resonance, Route};
pub use search::{fit, good_day, wanted};
