//! The sessions of a battery and of a build, read from their folders. It gives a battery's logbook with its full runs, a build's
//! session against its model, and the good day that is kept with one.
//!
//! The sessions read are never changed. Two files are written. An index beside the sessions saves reading unchanged ones again
//! and may be deleted at any time. A good day is written into a session's folder where somebody asks for it.

mod compared;
mod ends;
mod error;
pub mod good_day;
mod index;
mod look;
mod pictures;
mod pushing;
mod runs;

pub use compared::{Compared, Planned, date, planned, sheet_in_force};
pub use ends::{Sources, of as ends};
pub use error::LogbookError;
pub use index::{entries, entries_but, stop_v};
pub use look::{last_runs, look, shown};
pub use pictures::pictures;
pub use runs::{Loading, Rule, end_v, finished, of_another, reread};
