//! Why a recording cannot begin, or cannot go on.

use std::io;
use std::path::PathBuf;

use super::news::Missing;
use crate::plain::{Shown as _, with_causes};
use crate::session::SessionError;

/// Why a recording cannot begin, or cannot go on.
#[derive(Debug, thiserror::Error)]
pub enum RecordingError {
    /// The folder cannot be made.
    #[error(transparent)]
    NoFolder(SessionError),
    /// The file of a byte log, or its folder, cannot be made.
    #[error("cannot write {}", path.shown())]
    ByteLog {
        /// The file or folder.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// The system gives no runtime.
    #[error("cannot start recording")]
    Runtime(#[source] io::Error),
    /// The table of forecasts cannot be made.
    #[error(transparent)]
    ForecastTable(SessionError),
    /// The system gives no thread for forecasts.
    #[error("cannot start the forecast")]
    ForecastThread(#[source] io::Error),
    /// Nothing more can be written; the rows that were written stand, unless their folder went and they could not be copied.
    #[error("{}", with_causes(why))]
    Broken {
        /// The error of the write, or of the folder that went.
        why: SessionError,
        /// Rows that were written.
        rows: u64,
        /// Where they are, or were.
        dir: PathBuf,
        /// Why a folder that went could not be closed, or its rows not be copied.
        unclosed: Option<Box<SessionError>>,
    },
    /// A full disk was waited for in vain.
    #[error("the disk is still full: {missing}")]
    StillFull {
        /// The count of the data not written.
        missing: Missing,
        /// Rows that were written.
        rows: u64,
        /// Where they are.
        dir: PathBuf,
    },
    /// All rows are written, but not how the recording ended.
    #[error("{}", with_causes(why))]
    Unclosed {
        /// The error of the write.
        why: SessionError,
        /// Where the rows are.
        dir: PathBuf,
    },
}
