//! The session folder: the lasting form of a recording, and the joint between those who record and those who analyse.
//!
//! ```text
//! session.toml                 who, what, how; state = "recording" until it is closed
//! build.toml                   the build sheet in force, byte for byte
//! instruments/LABEL.toml       the profiles in force
//! samples.csv                  one row a reading set; samples.csv-metadata.json describes it (CSV on the Web)
//! forecast.csv                 time left of the battery as it was foretold, and its description, if asked for
//! marks.csv                    what the person noted
//! rejected.log                 what was refused, raw, bounded
//! plots/                       pictures made from it
//! ```
//!
//! A row is whole or absent. What was written survives a kill; what was lost is stated. A closed folder is not changed.

mod anchor;
mod check;
mod connection;
mod csvw;
mod digits;
mod disk_sync;
mod folder;
mod forecast;
mod meta;
mod opened;
mod order;
mod reader;
mod summary;
mod table;
mod writer;

pub use anchor::Fate;
pub use check::{Checked, Finding, check, mend};
pub use connection::{Clause, Connection, ConnectionError};
pub use folder::{Contents, folder_name, move_aside, prepare_folder, replace_file, unused};
pub use forecast::{ForecastWriter, Foretold};
pub use meta::{ClockRate, InstrumentMeta, LinkMeta, Meta, State};
pub use opened::{MarkRow, Session};
pub use reader::{RowReader, Skipped};
pub use summary::{Extent, Summary};
pub use writer::{Writer, Written};

use crate::plain::Shown as _;
use std::io;
use std::path::{Path, PathBuf};

/// The form of the folder that this program writes.
pub const SCHEMA: u32 = 1;

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
        /// What the system says.
        source: io::Error,
    },
    /// Something could not be read.
    #[error("cannot read {}", path.shown())]
    Read {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        source: io::Error,
    },
    /// The folder is not where it was when the recording began.
    #[error("the folder {} {fate} while it was recorded to", path.shown())]
    Displaced {
        /// Where it was.
        path: PathBuf,
        /// What became of it.
        fate: Fate,
    },
    /// It is no session folder.
    #[error("{} is not a session folder: {reason}", path.shown())]
    NotASession {
        /// The folder.
        path: PathBuf,
        /// What is missing or wrong.
        reason: String,
    },
}

impl SessionError {
    fn write(path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_owned();
        move |source| Self::Write { path, source }
    }

    fn read(path: &Path) -> impl FnOnce(io::Error) -> Self {
        let path = path.to_owned();
        move |source| Self::Read { path, source }
    }
}
