//! What a build should do: the resonance with its band, whether it starts, its field and what a pick-up sees.

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
