//! Findings and numbers as text, JSON and pages.

pub mod compare;
pub mod compare_json;
pub mod interruptions;
