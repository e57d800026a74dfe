//! The card that goes to the bench: how a build is wired, and the reading expected at each step of its first power-up.

mod content;
mod page;
mod stages;
mod steps;
mod text;

pub use content::{Card, working_end};
pub use page::drawing;
pub use text::text;

#[cfg(test)]
mod tests;
