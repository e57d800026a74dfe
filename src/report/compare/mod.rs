//! Measured against predicted: drift, pushing, events, lamps and the explanation of a resonance.

pub mod answer;
mod change;
mod drift;
mod events;
pub mod explained;
pub mod interruptions;
mod json;
pub mod lamp;
mod notes;
pub mod pushing;
pub mod session;
mod text;

pub use json::{Beside, Json};
pub use text::text;

#[cfg(test)]
mod answer_tests;
#[cfg(test)]
pub(super) mod tests;
