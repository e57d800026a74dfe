//! Findings and numbers as text for the bench and as JSON for other programs.

mod digits;
mod layout;
pub mod predict;
