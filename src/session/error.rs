//! Why a session cannot be written or read.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

use crate::plain::Shown as _;

/// Why a session cannot be written or read.
#[derive(Debug, thiserror::Error)]
pub enum SessionError {
    /// The folder is there already.
    #[error("the folder {} exists already", path.shown())]
    Exists {
        /// The folder.
        path: PathBuf,
    },
    /// Something could not be written.
    #[error("cannot write {}", path.shown())]
    Write {
        /// The file or folder.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// Something could not be read.
    #[error("cannot read {}", path.shown())]
    Read {
        /// The file or folder.
        path: PathBuf,
        /// The system's error.
        source: io::Error,
    },
    /// The folder is not where it was when the recording began.
    #[error("the folder {} {fate} while it was recorded to", path.shown())]
    Displaced {
        /// Where it was.
        path: PathBuf,
        /// The fate of the folder.
        fate: Fate,
    },
    /// `session.toml` is damaged.
    #[error("{}, line {line}: {reason}", path.shown())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// The line, counted from 1.
        line: usize,
        /// The fault.
        reason: String,
    },
    /// The table of rows has no line of names.
    #[error("{} {reason}", path.shown())]
    NoTable {
        /// The file.
        path: PathBuf,
        /// The fault.
        reason: String,
    },
    /// It is not a session folder.
    #[error("{} is not a session folder: {reason}", path.shown())]
    NotASession {
        /// The folder.
        path: PathBuf,
        /// The missing or wrong part.
        reason: String,
    },
}

impl SessionError {
    pub(super) fn write(path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_owned();
        move |source| Self::Write { path, source }
    }

    pub(super) fn read(path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_owned();
        move |source| Self::Read { path, source }
    }
}

/// The fate of a folder that is being written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Fate {
    /// It is here now.
    Moved(PathBuf),
    /// It, or its `samples.csv`, was deleted, or something else has its name.
    Removed,
}

impl fmt::Display for Fate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Moved(now) => write!(f, "was moved to {}", now.shown()),
            Self::Removed => f.write_str("or its samples.csv was removed or replaced"),
        }
    }
}

impl SessionError {
    /// Where a folder went that was being written.
    pub const fn fate(&self) -> Option<&Fate> {
        match self {
            Self::Displaced { fate, .. } => Some(fate),
            _ => None,
        }
    }

    /// Whether the disk has no room left.
    pub fn is_full_disk(&self) -> bool {
        match self {
            Self::Write { source, .. } => matches!(
                source.kind(),
                io::ErrorKind::StorageFull
                    | io::ErrorKind::QuotaExceeded
                    | io::ErrorKind::FileTooLarge
            ),
            _ => false,
        }
    }
}
