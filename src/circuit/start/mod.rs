//! What grows out of the resting point, and where each quantity just starts it.

pub mod margin;
mod moving;
pub mod rest;
pub mod rule;
pub mod startup;
mod threshold;
