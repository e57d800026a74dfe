//! The ring model: a winding as coaxial rings of charge and current, and the modes they have.
//!
//! The turns, or groups of them, carry charge at the middles and current at the edges of equal elements. Charges give potentials
//! by the rings' potential coefficients P, and currents give voltages by their inductances M. D says which current brings charge
//! where, and DᵀPD·i = ω²M·i has the resonances. Planes are replaced by images, a board below by those in its faces and the
//! plane's behind it, other conductors condensed to a node each. It takes lengths and gives frequencies; it knows nothing of
//! sheets, tolerances or bands.
//!
//! Checked against four measured coils over a known ground (within 1.4 % with their planes as metal), full-wave thin-wire
//! runs of helices and flat spirals (within 1 % from 12 turns on), and closed forms; see the tables of `tests/model/validation`.

mod charge;
mod charges;
pub mod conductor;
mod currents;
mod eigen;
mod grid;
pub mod kernel;
mod layers;
mod meridian;
mod network;
mod pairs;
mod scene;
mod solve;

pub use charge::{isolated_f, isolated_shares_f};
pub use charges::{Charges, RingCharge, charges};
pub use currents::{Currents, RingCurrent, currents};
pub use meridian::Meridian;
pub use scene::{Board, End, MIN_TURNS, Plane, RingError, Scene};
pub use solve::{Fineness, Profile, Solution, frequency_hz, profile, solve};

#[cfg(test)]
mod tests;
