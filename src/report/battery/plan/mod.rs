//! Whether one charge covers an evening.

mod answer;
mod evenings;
mod json;
mod supply;
mod text;

pub use answer::answer;
pub use evenings::Evenings;
pub use json::Json;
pub use supply::{predicted_notes, stops_otherwise};
pub use text::text;
