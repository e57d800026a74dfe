//! Moments that the person noted.

/// A person's note, with the row it stands at.
#[derive(Debug, Clone, PartialEq)]
pub struct Noted {
    /// When, in seconds since the session began.
    pub at_s: f64,
    /// The note.
    pub text: String,
    /// Number of the first row at or after it; `None` if none came.
    pub row: Option<u64>,
}

impl Noted {
    /// Creates a mark whose row is not known yet.
    pub const fn new(at_s: f64, text: String) -> Self {
        Self {
            at_s,
            text,
            row: None,
        }
    }
}
