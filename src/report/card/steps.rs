//! A card's steps: actions and readings.

/// One thing to do and to read.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Step {
    pub(super) what: String,
    pub(super) expected: String,
}

/// Steps under one heading, which says how the build stands meanwhile.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Stage {
    pub(super) heading: String,
    pub(super) steps: Vec<Step>,
    /// The advice if the readings are others, and the dangers.
    pub(super) notes: Vec<String>,
}
