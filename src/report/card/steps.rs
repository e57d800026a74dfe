//! A card's steps: what is to be done and read.

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
    /// What to do if the readings are others, and what could hurt.
    pub(super) notes: Vec<String>,
}
