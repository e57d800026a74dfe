//! The session folder: the lasting form of a recording, and the joint between those who record and those who analyse.
//!
//! ```text
//! session.toml                 who, what, how; state = "recording" until it is closed
//! build.toml                   the build sheet in force, byte for byte
//! instruments/LABEL.toml       the profiles in force
//! samples.csv                  one row a reading set; samples.csv-metadata.json describes it (CSV on the Web)
//! forecast.csv                 time left of the battery as it was forecast, and its description, if asked for
//! marks.csv                    what the person noted
//! rejected.log                 what was refused, raw, bounded
//! plots/                       pictures made from it
//! ```
//!
//! A row is whole or absent. Written rows survive a kill; lost ones are stated. A closed folder is not changed.

mod anchor;
mod check;
mod connection;
mod csvw;
mod digits;
mod disk_sync;
mod error;
mod folder;
mod forecast;
mod forecast_columns;
mod held;
mod meta;
mod opened;
mod order;
mod reader;
mod summary;
mod table;
mod text;
mod writer;

pub use check::{Checked, Finding, check, mend};
pub use connection::{Clause, Connection, ConnectionError};
pub use error::{Fate, SessionError};
pub use folder::{Contents, folder_name, move_aside, prepare_folder, replace_file, slug, unused};
pub use forecast::{ForecastWriter, Foretold};
pub use meta::{ClockRate, InstrumentMeta, LinkMeta, Meta, SCHEMA, State};
pub use opened::{MarkRow, Session};
pub use reader::{RowReader, Skipped};
pub use summary::{Extent, Summary};
pub use writer::{Writer, Written};
