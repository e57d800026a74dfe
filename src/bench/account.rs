//! The account of a virtual instrument: its messages, their number, and the reasons for failures.

use std::io;
use std::path::PathBuf;

use crate::plain::Shown as _;

/// Why an instrument cannot be put on a pseudo-terminal.
#[derive(Debug, thiserror::Error)]
pub enum PtyError {
    /// The system has no pseudo-terminals.
    #[error("virtual bench: this system has no pseudo-terminals, a Unix is needed")]
    Unsupported,
    /// A step of opening one failed.
    #[error("{step} a pseudo-terminal")]
    Open {
        /// The step under way.
        step: &'static str,
        /// The system's error.
        source: io::Error,
    },
    /// The link to it could not be made.
    #[error("link to the pseudo-terminal at {}", path.shown())]
    Link {
        /// Where it was to be.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// Waiting on the line failed.
    #[error("waiting on a pseudo-terminal")]
    Wait(#[source] io::Error),
    /// No thread could be had.
    #[error("thread of a virtual instrument")]
    Thread(#[source] io::Error),
}

/// Something that was really put on the line.
#[derive(Debug, Clone, PartialEq)]
pub struct Sent {
    /// When it was measured, in elapsed seconds of the device's clock.
    pub elapsed_s: f64,
    /// The bytes that the line took.
    pub bytes: Vec<u8>,
}

/// The counts of a line so far.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// How often a program opened it.
    pub openings: u64,
    /// Bytes heard.
    pub heard_bytes: u64,
    /// Messages sent, asked and unasked; a long one counts for each piece that the line took.
    pub sent: u64,
    /// Bytes lost because nobody read them in time.
    pub lost_bytes: u64,
}
