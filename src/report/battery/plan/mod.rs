//! Whether one charge covers an evening.

mod evenings;
mod json;
mod supply;
mod text;

pub use evenings::Evenings;
pub use json::Json;
pub use text::text;
