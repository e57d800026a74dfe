//! The parts of a coil and its place, and the scene that the ring model solves for it.

pub mod film;
pub mod former;
pub mod setup;
pub mod spec;
pub mod surroundings;
pub mod winding;
pub mod wire;
