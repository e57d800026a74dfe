//! The parts of a build: transistors and diodes in charge form, their heat, and the sets of parts a class may come with.

pub mod diode;
pub mod heat;
pub mod junction;
pub mod parts;
pub mod practice;
pub mod sets;
pub mod transistor;
