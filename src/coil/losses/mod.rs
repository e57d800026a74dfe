//! Resistance of the copper: skin, neighbouring turns, and turns counted by it.

pub mod loss;
pub(super) mod ohms;
pub mod proximity;
