//! Measured against predicted: drift, pushing, events, lamps and what explains a resonance.

mod drift;
mod events;
pub mod explained;
pub mod interruptions;
mod json;
pub mod lamp;
pub mod pushing;
pub mod session;
mod text;

pub use json::{Beside, Json};
pub use text::text;

#[cfg(test)]
pub(super) mod tests;
