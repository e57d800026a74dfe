//! What a coil is made of and where it stands, and the scene that the ring model solves for it.

pub mod film;
pub mod former;
pub mod setup;
pub mod spec;
pub mod surroundings;
pub mod winding;
pub mod wire;
