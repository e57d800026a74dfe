//! The predicted behaviour of a build: the resonance with its band, whether it starts, its field and the voltage of a pick-up.

pub mod answer;
pub mod asked;
mod assumption;
pub mod field;
pub mod json;
pub mod pickup;
pub mod start;
mod text;
pub mod wanted;

pub use text::text;

#[cfg(test)]
mod tests;
