//! How an exchange with an instrument stands.

/// How questions and answers stand to each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Step {
    /// No answer is outstanding that could be taken for the next one.
    In,
    /// An answer did not come.
    Missed,
    /// The bytes were no answer to the question; the answer may still come.
    Garbled,
}

/// How the line to the instrument is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Line {
    /// Open, and the instrument must be set up, as after each return.
    Fresh,
    /// In use.
    Up,
    /// Lost; it may come back.
    Lost,
    /// At its end.
    Ended,
}
