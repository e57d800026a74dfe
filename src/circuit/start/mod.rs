//! Oscillations that grow out of the resting point, and the value of each quantity that just starts them.

pub mod margin;
mod moving;
pub mod rest;
pub mod rule;
pub mod startup;
mod threshold;
