//! Whether a build starts and how it runs: a part of a prediction.

mod json;
mod parts;
mod subject;
mod text;

pub use json::StartPart;
pub use subject::{Start, spread_word};
pub use text::{not_computed, text};

#[cfg(test)]
pub(in crate::report::predict) use text::tests;
